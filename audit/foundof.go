package audit

import "grainward/records/state"

// foundOf is the findings of things of one sort, and which have gone and come since somebody asked.
type foundOf[K comparable] struct {
	found      map[K][]*Finding
	gone, come []of[K]
}

type of[K comparable] struct {
	thing K
	*Finding
}

// set puts what is found of a thing in place of what was found before.
func (k *foundOf[K]) set(thing K, now []*Finding) {
	old := k.found[thing]
	if len(old)+len(now) == 0 {
		return
	}
	if k.found == nil {
		k.found = map[K][]*Finding{}
	}
	same := state.Common(old, now)
	for _, f := range old[same:] {
		k.gone = append(k.gone, of[K]{thing, f})
	}
	for _, f := range now[same:] {
		k.come = append(k.come, of[K]{thing, f})
	}
	if k.found[thing] = now; len(now) == 0 {
		delete(k.found, thing)
	}
}

func (k *foundOf[K]) forget() {
	for thing := range k.found {
		k.set(thing, nil)
	}
}

// upTo drops what was found of the things from the nth on.
func upTo(k *foundOf[int], n int) {
	for thing := range k.found {
		if thing >= n {
			k.set(thing, nil)
		}
	}
}

func (k *foundOf[K]) take(gone, come *[]placed, part func(K) int) {
	for _, x := range k.gone {
		*gone = append(*gone, placed{found: x.Finding, part: part(x.thing)})
	}
	for _, x := range k.come {
		*come = append(*come, placed{found: x.Finding, part: part(x.thing)})
	}
	k.gone, k.come = nil, nil
}
