package audit

import (
	"fmt"
	"math"
	"math/big"

	"grainward/records"
)

// part is how much of a mass has a property, exactly: of grain that goes back to a receipt, of grain that is organic. Mostly it is all
// of it or nothing; fractions are kept apart.
type part struct {
	total  records.Micrograms
	entire records.Micrograms // that has it
	rest   *big.Rat           // and fractions of what else; nil when there are none
}

func wholly() part { return part{total: 1, entire: 1} }

// Nobody changes these.
var one, zero = big.NewRat(1, 1), new(big.Rat)

// ratio is from 0 to 1; of nothing it is 0. It must not be changed.
func (p *part) ratio() *big.Rat {
	switch {
	case p == nil || p.total == 0 || p.entire == 0 && p.rest == nil:
		return zero
	case p.all():
		return one
	}
	has := new(big.Rat).SetInt64(int64(p.entire))
	if p.rest != nil {
		has.Add(has, p.rest)
	}
	return has.Quo(has, new(big.Rat).SetInt64(int64(p.total)))
}

// all says, of a part without fractions, whether all of the mass has the property.
func (p *part) all() bool { return p != nil && p.total != 0 && p.rest == nil && p.entire == p.total }

func (p *part) whole() bool { return p.all() || p.ratio().Cmp(one) == 0 }

// longest is how many bits a share's denominator may have. Each step multiplies it, so that a silo that is never
// emptied would in years make numbers of thousands of digits.
const longest = 256

// add adds mass of which a share has the property. A share with a long denominator is first rounded down to a part in
// 10^18: down, as 7 CFR 205.302 (from memory) rounds, and far below any scale.
func (p *part) add(m records.Micrograms, share *big.Rat) {
	p.total += m
	switch {
	case m == 0 || share.Sign() == 0:
		return
	case share == one || share.Cmp(one) == 0:
		p.entire += m
		return
	}
	if share.Denom().BitLen() > longest {
		const parts = 1_000_000_000_000_000_000
		n := new(big.Int).Mul(share.Num(), big.NewInt(parts))
		share = new(big.Rat).SetFrac(n.Quo(n, share.Denom()), big.NewInt(parts))
	}
	rest := new(big.Rat).Mul(share, new(big.Rat).SetInt64(int64(m)))
	if p.rest != nil {
		rest.Add(rest, p.rest)
	}
	p.rest = rest
}

// percentDown is a share in whole percent, rounded down, so that 99.9 % never reads as all of it.
func percentDown(share float64) string { return fmt.Sprintf("%d %%", int(math.Floor(100*share+1e-9))) }
