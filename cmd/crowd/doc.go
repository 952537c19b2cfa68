// Package crowd is the devices of a plant's floor, all at once: so many enrolled devices with somebody signed in on each, which
// ask a server one request after the other and keep count of what was answered and how long it took. It loads a server from
// outside, through its JSON interface, for `grainward bench` and for load tests.
//
//	c, err := crowd.Enrol(ctx, "http://127.0.0.1:8417", passes)   // a code, a person and a PIN for each device
//	tally := c.Go(ctx, func(device, turn int) (crowd.Ask, bool) { ... })
//	fmt.Println(tally.Kinds["sign-off"].At(0.99))
//
// Every device has a connection of its own, kept open, and speaks from a loopback address of its own (127.1.0.1, 127.1.0.2, …), so
// that what a server allows one address, one device and one person in a minute holds for each as it would on a floor, and
// need not be switched off to be measured. Where a system has no such addresses (some have 127.0.0.1 alone), Enrol says so.
//
// It knows how to ask. It must not know what is behind the address: no book, no store, no judgement.
package crowd
