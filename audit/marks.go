package audit

import "slices"

// marks are numbers of lots, steps or changes of hands, each once. Of a first judgement they are all there are, and of most others a
// few, so they are kept both as bits and as a list.
type marks struct {
	bits []uint64
	list []int
}

// add marks a number that is not below 0; of one that is marked it changes nothing.
func (m *marks) add(i int) {
	word := i / 64
	for word >= len(m.bits) {
		m.bits = append(m.bits, 0)
	}
	if bit := uint64(1) << (i % 64); m.bits[word]&bit == 0 {
		m.bits[word] |= bit
		m.list = append(m.list, i)
	}
}

func (m *marks) has(i int) bool {
	return i >= 0 && i/64 < len(m.bits) && m.bits[i/64]&(1<<(i%64)) != 0
}

// sorted are the marked numbers in order.
func (m *marks) sorted() []int {
	slices.Sort(m.list) // nearly always they are
	return m.list
}
