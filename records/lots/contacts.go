package lots

import (
	"iter"
	"slices"
	"sort"

	"grainward/records"
	"grainward/records/state"
)

// Contacts are those of one station, in order of From. The list lies in pages, so that one that has changed shares with the older one all
// pages but those that are other than they were; a busy station comes to have a hundred thousand contacts.
type Contacts struct {
	pages []*contactPage // full but for the last
}

type contactPage struct {
	list []Contact
	turn turn // of the folder that may change it
}

// perPage is a variable so that tests can turn many pages.
var perPage = 128

// Len is how many there are.
func (cs Contacts) Len() int {
	if n := len(cs.pages); n > 0 {
		return (n-1)*perPage + len(cs.pages[n-1].list)
	}
	return 0
}

// At is one of them; it must not be changed.
func (cs Contacts) At(i int) *Contact { return &cs.pages[i/perPage].list[i%perPage] }

// All are all of them; they must not be changed.
func (cs Contacts) All() iter.Seq[*Contact] { return cs.From(0) }

// From are those from the n-th on; they must not be changed.
func (cs Contacts) From(n int) iter.Seq[*Contact] {
	return func(yield func(*Contact) bool) {
		for k := n / perPage; k < len(cs.pages); k++ {
			list := cs.pages[k].list
			for i := max(0, n-k*perPage); i < len(list); i++ {
				if !yield(&list[i]) {
					return
				}
			}
		}
	}
}

// Cut is a list of those from one index up to another, which whoever asks may change.
func (cs Contacts) Cut(from, to int) []Contact {
	out := make([]Contact, 0, to-from)
	for from < to {
		page := cs.pages[from/perPage].list
		first := from % perPage
		last := min(len(page), first+to-from)
		out, from = append(out, page[first:last]...), from+last-first
	}
	return out
}

// Begun is how many began before an instant.
func (cs Contacts) Begun(before records.Instant) int {
	return sort.Search(cs.Len(), func(i int) bool { return cs.At(i).From >= before })
}

// Common is how many contacts two stations' lists begin with that are the same.
func (cs Contacts) Common(other Contacts) int {
	n := 0
	for k := range min(len(cs.pages), len(other.pages)) {
		a, b := cs.pages[k], other.pages[k]
		same := 0
		if a == b {
			same = len(a.list)
		}
		for same < len(a.list) && same < len(b.list) && a.list[same] == b.list[same] {
			same++
		}
		if n += same; same < perPage {
			break
		}
	}
	return n
}

// own is a page that may be changed in a turn. The list of pages must be the turn's own.
func (cs *Contacts) own(k int, now turn) *contactPage {
	if cs.pages[k].turn != now {
		cs.pages[k] = &contactPage{append(make([]Contact, 0, perPage), cs.pages[k].list...), now}
	}
	return cs.pages[k]
}

// append puts a contact behind the others.
func (cs *Contacts) append(c Contact, now turn) {
	n := len(cs.pages)
	if n == 0 || len(cs.pages[n-1].list) == perPage {
		first := min(perPage, 4) // many stations have few
		if n > 0 {
			first = perPage
		}
		cs.pages = append(cs.pages, &contactPage{append(make([]Contact, 0, first), c), now})
		return
	}
	page := cs.own(n-1, now)
	page.list = append(page.list, c)
}

// end notes how the i-th ended.
func (cs *Contacts) end(i int, at records.Instant, by *state.Record, now turn) {
	c := &cs.own(i/perPage, now).list[i%perPage]
	c.To, c.Ended = at, by
}

// insert puts a contact before the i-th; each page behind hands its last on.
func (cs *Contacts) insert(i int, c Contact, now turn) {
	for k := i / perPage; k < len(cs.pages); k++ {
		page := cs.own(k, now)
		at := max(0, i-k*perPage)
		if len(page.list) < perPage {
			page.list = slices.Insert(page.list, at, c)
			return
		}
		last := page.list[perPage-1]
		copy(page.list[at+1:], page.list[at:perPage-1])
		page.list[at], c = c, last
	}
	cs.append(c, now)
}
