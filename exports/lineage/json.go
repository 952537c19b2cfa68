package lineage

import (
	"encoding/json"
	"fmt"
	"io"
)

// WriteJSON writes the form as indented JSON with a line feed at its end.
func WriteJSON(w io.Writer, in Input) error {
	f, err := Flatten(in)
	if err != nil {
		return err
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	if err := enc.Encode(f); err != nil {
		return fmt.Errorf("writing the trace as JSON: %w", err)
	}
	return nil
}
