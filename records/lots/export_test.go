package lots

// SmallPages has contacts lie in pages of n until the test ends.
func SmallPages(t interface{ Cleanup(func()) }, n int) {
	was := perPage
	perPage = n
	t.Cleanup(func() { perPage = was })
}
