package audit

import (
	"fmt"
	"math"
	"math/big"

	"grainward/records"
)

// part is how much of a mass has a property, exactly: of grain that goes back to a receipt, of grain that is organic.
type part struct {
	total records.Micrograms
	has   big.Rat // micrograms
}

func wholly() *part {
	p := &part{total: 1}
	p.has.SetInt64(1)
	return p
}

var one = big.NewRat(1, 1)

// ratio is from 0 to 1; of nothing it is 0.
func (p *part) ratio() *big.Rat {
	if p == nil || p.total == 0 {
		return new(big.Rat)
	}
	r := new(big.Rat).Quo(&p.has, new(big.Rat).SetInt64(int64(p.total)))
	return r
}

func (p *part) whole() bool { return p.ratio().Cmp(one) == 0 }

// longest is how many bits a share's denominator may have. Each step multiplies it, so that a silo that is never
// emptied would in years make numbers of thousands of digits.
const longest = 256

// add adds mass of which a share has the property. A share with a long denominator is first rounded down to a part in
// 10^18: down, as 7 CFR 205.302 (from memory) rounds, and far below any scale.
func (p *part) add(m records.Micrograms, share *big.Rat) {
	if m == 0 {
		return
	}
	if share.Denom().BitLen() > longest {
		const parts = 1_000_000_000_000_000_000
		n := new(big.Int).Mul(share.Num(), big.NewInt(parts))
		share = new(big.Rat).SetFrac(n.Quo(n, share.Denom()), big.NewInt(parts))
	}
	p.total += m
	p.has.Add(&p.has, new(big.Rat).Mul(share, new(big.Rat).SetInt64(int64(m))))
}

// percentDown is a share in whole percent, rounded down, so that 99.9 % never reads as all of it.
func percentDown(share float64) string { return fmt.Sprintf("%d %%", int(math.Floor(100*share+1e-9))) }
