package balance

import (
	"fmt"

	"grainward/audit"
	"grainward/records"
)

// said is a phrase in each language.
type said struct{ en, es string }

func (s said) in(lang string) string {
	if lang == "es" {
		return s.es
	}
	return s.en
}

var verdicts = map[audit.Verdict]said{audit.Within: {"within", "dentro"}, audit.Above: {"above", "por encima"}, audit.Below: {"below", "por debajo"}, audit.Unknown: {"unknown", "desconocido"}}

// Word is a verdict in a language: en, or es.
func Word(v audit.Verdict, lang string) string {
	if s, ok := verdicts[v]; ok {
		return s.in(lang)
	}
	return string(v)
}

// In is the band in words; empty when the plan names none.
func (b Band) In(lang string) string {
	switch {
	case b.Min != nil && b.Max != nil:
		return fmt.Sprintf(said{"%s to %s %%", "%s a %s %%"}.in(lang), b.Min, b.Max)
	case b.Min != nil:
		return fmt.Sprintf(said{"at least %s %%", "al menos %s %%"}.in(lang), b.Min)
	case b.Max != nil:
		return fmt.Sprintf(said{"at most %s %%", "como mucho %s %%"}.in(lang), b.Max)
	}
	return ""
}

// Percent is a share of one in percent.
func Percent(x float64) string { return fmt.Sprintf("%.1f %%", 100*x) }

// LossWords says of a finished lot what it lost against its grain and what the plan expects.
func (w *Whole) LossWords(lang string) string {
	return fmt.Sprintf(said{"%s less dry matter than its grain; the plan expects %s", "%s menos materia seca que su grano; el plan espera %s"}.in(lang), Percent(w.Loss), w.Band.In(lang))
}

// DifferWords says how what bags are labelled with differs from what came out; mass says a mass in the plant's unit.
func (b *Bags) DifferWords(lang string, mass func(records.Micrograms) string) string {
	than := said{"%d bags are labelled with %s less than came out", "%d sacos llevan en la etiqueta %s menos de lo que salió"}
	by := b.By
	if by < 0 {
		by = -by
		than = said{"%d bags are labelled with %s more than came out", "%d sacos llevan en la etiqueta %s más de lo que salió"}
	}
	return fmt.Sprintf(than.in(lang), b.Bags, mass(by))
}
