package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/sqlite"
)

type importCommand struct {
	plantFlag
	File   string   `arg:"" help:"The file of facts, or - for standard input."`
	Attach []string `type:"path" placeholder:"FILE" help:"A document or photo that the facts name by its SHA-256, to be kept beside the journal; may be given several times. It is kept even when the facts are refused."`
}

// Help is the long help of the command.
func (*importCommand) Help() string {
	return `Each line is one JSON object:

{"happened":"2026-03-08T07:30:00-05:00","by":"nora","kind":"signoff","fact":{"task":"floor-scrub","station":"floor","outcome":"passed"}}

"id" (a version 7 UUID), "device" and "meaning" may be there too. A line without an id gets one made from what it says, so the same file imported twice is written once. "recorded" must not be there: the journal writes it. Numbers that were measured are texts with a unit: {"value":"45.2","unit":"%"}.

All lines are written, or none of them: every line that can not be taken is reported at once.`
}

func (c *importCommand) Run(ctx context.Context, w *world) error {
	// The store is opened first: that another process has it is worth knowing before a long file is read.
	b, err := c.openBook(ctx, w, sqlite.Write)
	if err != nil {
		return err
	}
	defer b.Close()
	for _, path := range c.Attach {
		if err := attach(ctx, w, b, path); err != nil {
			return err
		}
	}
	in, name := io.NopCloser(w.in), "standard input"
	if c.File != "-" {
		if in, err = os.Open(c.File); err != nil {
			return fileError("reading the facts", c.File, err)
		}
		name = c.File
	}
	defer in.Close()
	f, err := readFacts(in)
	if err != nil {
		return fileError("reading the facts", name, err)
	}
	receipts, err := f.admit(ctx, b, name)
	if err != nil {
		return err
	}
	already := 0
	for _, r := range receipts {
		if r.Already {
			already++
		}
	}
	w.say("%s: %d new, %d already there. The journal holds %s.", name, len(receipts)-already, already, plural(int(b.View().State.Size()), "entry"))
	return nil
}

func attach(ctx context.Context, w *world, b *book.Book, path string) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return fileError("reading the document", path, err)
	}
	key, err := b.PutBlob(ctx, data)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	w.say("%s is kept as %s (%d bytes).", path, key, len(data))
	return nil
}

// facts are the lines of a file. A line that can not be read stands as an empty draft, which the book refuses: so
// one call tells the faults of all lines, and none is written when one is at fault.
type facts struct {
	drafts []records.Entry
	lines  []int         // of the file, from 1
	bad    map[int]error // by draft
}

// maxFact is more than any kind of entry may take.
const maxFact = 4 << 20

func readFacts(in io.Reader) (f facts, err error) {
	f.bad = map[int]error{}
	lines := bufio.NewReaderSize(in, 1<<16)
	for n := 1; ; n++ {
		line, tooLong, err := readLine(lines)
		if err != nil && !errors.Is(err, io.EOF) {
			return f, err
		}
		if n == 1 {
			line = bytes.TrimPrefix(line, []byte("\xef\xbb\xbf")) // some editors put it there
		}
		if line = bytes.TrimSpace(line); len(line) > 0 {
			draft, fault := records.ParseDraft(line)
			if tooLong {
				fault = &records.Error{Kind: records.Invalid, What: fmt.Sprintf("the line is longer than %d bytes", maxFact)}
			}
			if fault != nil {
				draft, f.bad[len(f.drafts)] = records.Entry{}, fault
			}
			f.drafts, f.lines = append(f.drafts, draft), append(f.lines, n)
		}
		if err != nil {
			return f, nil
		}
	}
}

// readLine reads a line of any length and keeps the first maxFact bytes of it.
func readLine(in *bufio.Reader) (line []byte, tooLong bool, err error) {
	for {
		part, err := in.ReadSlice('\n')
		if len(line)+len(part) <= maxFact {
			line = append(line, part...)
		} else {
			tooLong = true
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return line, tooLong, err
		}
	}
}

func (f *facts) admit(ctx context.Context, b *book.Book, name string) ([]book.Receipt, error) {
	receipts, err := b.Admit(ctx, f.drafts...)
	var refused *book.Errors
	if !errors.As(err, &refused) {
		return receipts, err
	}
	e := &records.Error{Kind: records.Invalid, What: fmt.Sprintf("%s: %s of %d can not be taken, and nothing was written", name, plural(len(refused.Faults), "line"), len(f.drafts)),
		Do: "Put them right and import the file again; lines already there are not written twice."}
	for _, fault := range refused.Faults {
		err := fault.Err
		if bad := f.bad[fault.Draft]; bad != nil {
			err = bad
		}
		e.Fields = append(e.Fields, atLine(f.lines[fault.Draft], err)...)
	}
	return nil, e
}

// atLine is an error's faults, each with the line.
func atLine(line int, err error) []records.FieldError {
	var own *records.Error
	if !errors.As(err, &own) || len(own.Fields) == 0 {
		return []records.FieldError{{Line: line, Want: strings.ReplaceAll(err.Error(), "\n", "\n    ")}}
	}
	var out []records.FieldError
	for _, f := range own.Fields {
		if f.Line > 0 { // a line of the plan that the fact carries
			f.Want = fmt.Sprintf("(line %d of it) %s", f.Line, f.Want)
		}
		f.Line = line
		out = append(out, f)
	}
	return out
}
