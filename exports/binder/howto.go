package binder

import (
	"bytes"
	_ "embed"
	"fmt"
	"text/template"

	"grainward/records"
)

//go:embed howto.txt
var howToText string

var howTo = template.Must(template.New("how to check").Parse(howToText))

// howToCheck is the text for a reader without this program. Its commands are run by a test as they stand.
func howToCheck(in Input, cited int, drawn []records.Position) []byte {
	draw := fmt.Sprintf("every one of the %d entries in journal.jsonl", cited)
	if cited > len(drawn) {
		draw = fmt.Sprintf(`%d of the %d entries in journal.jsonl: those for which SHA-256 over the
tree head in base64, a space and the position in decimal is smallest. Nobody
could choose which without changing the journal, and you can repeat the draw`, len(drawn), cited)
	}
	var b bytes.Buffer
	err := howTo.Execute(&b, map[string]any{
		"Plant": visible(in.Stamp.Plant), "Address": visible(in.Stamp.Address), "From": in.From.String(), "To": in.To.String(), "Moment": in.Stamp.At.String(),
		"Program": visible(in.Stamp.Program), "MadeBy": visible(in.Stamp.MadeBy), "Size": in.Stamp.Size, "Root": in.Stamp.Root.String(), "Origin": in.Stamp.Origin,
		"Draw": draw, "First": drawn[0], "Proof": proofName(drawn[0]),
	})
	if err != nil {
		panic(err) // a mistake in howto.txt, found by any test
	}
	return b.Bytes()
}
