package binder

import (
	"fmt"
	"iter"
	"math/bits"
	"strings"

	"grainward/records"
)

// positions is a set of journal positions, one bit each.
type positions []uint64

func (p *positions) add(at records.Position) {
	for int(at/64) >= len(*p) {
		*p = append(*p, 0)
	}
	(*p)[at/64] |= 1 << (at % 64)
}

func (p positions) has(at records.Position) bool {
	return at >= 0 && int(at/64) < len(p) && p[at/64]>>(at%64)&1 == 1
}

func (p positions) len() (n int) {
	for _, w := range p {
		n += bits.OnesCount64(w)
	}
	return n
}

// all gives the positions in order.
func (p positions) all() iter.Seq[records.Position] {
	return func(yield func(records.Position) bool) {
		for i, w := range p {
			for ; w != 0; w &= w - 1 {
				if !yield(records.Position(i*64 + bits.TrailingZeros64(w))) {
					return
				}
			}
		}
	}
}

// cite notes that the binder speaks of entries, and writes their positions as text; neighbours are joined to runs.
func (b *builder) cite(all ...records.Position) string {
	var out []string
	for i := 0; i < len(all); i++ {
		b.cited.add(all[i])
		j := i
		for j+1 < len(all) && all[j+1] == all[j]+1 {
			j++
			b.cited.add(all[j])
		}
		if j-i > 1 {
			out = append(out, fmt.Sprintf("%d–%d", all[i], all[j]))
			i = j
			continue
		}
		out = append(out, fmt.Sprint(all[i]))
	}
	return strings.Join(out, ", ")
}
