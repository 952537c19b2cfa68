package binder

import (
	"context"
	"encoding/hex"
	"fmt"
	"strings"

	"grainward/audit"
)

// proofKeys are the first column of the proof sheet: fixed names, in every language, that Verify reads.
const (
	keyLayout     = "layout"
	keyOrigin     = "origin"
	keySize       = "position"
	keyRoot       = "tree head"
	keyMoment     = "moment"
	keyFrom       = "from"
	keyTo         = "to"
	keyLang       = "language"
	keyLimit      = "row limit"
	keyPlant      = "plant"
	keyAddress    = "address"
	keyProgram    = "program"
	keyMadeBy     = "made by"
	keyKey        = "verifier key"
	keyCheckpoint = "checkpoint"
)

// proof is the sheet that says what the binder was made from, and how to check it.
func (b *builder) proof(ctx context.Context) error {
	name := b.say("Proof")
	sw, err := b.sheet(name, []column{{"", 14, mono}, {"", 34, plain}, {"", 100, mono}}, 0)
	if err != nil {
		return err
	}
	p := &page{b: b, name: name, sw: sw, wide: 3}
	if err := p.line(24, p.cell(title, b.say("Proof: what this binder was made from"))); err != nil {
		return err
	}
	s := b.in.Stamp
	type row struct{ key, says, value string }
	rows := []row{
		{keyLayout, b.say("Version of this binder's layout"), itoa(Layout)},
		{keyPlant, b.say("Plant"), s.Plant},
		{keyAddress, b.say("Address"), s.Address},
		{keyOrigin, b.say("Journal"), s.Origin},
		{keySize, b.say("Entries the journal held"), fmt.Sprint(s.Size)},
		{keyRoot, b.say("Tree head over them (RFC 6962, SHA-256, base64)"), s.Root.String()},
		{keyMoment, b.say("As it stood at (UTC)"), s.At.String()},
		{keyFrom, b.say("First day"), b.in.From.String()},
		{keyTo, b.say("Last day"), b.in.To.String()},
		{keyLang, b.say("Language"), b.lang},
		{keyLimit, b.say("Rows a sheet may have"), itoa(b.limit)},
		{keyProgram, b.say("Made with"), s.Program},
		{keyMadeBy, b.say("Made by"), s.MadeBy},
		{keyKey, b.say("The plant's public key"), s.VerifierKey},
	}
	for _, line := range strings.Split(string(s.Checkpoint), "\n") {
		if s.Signed() {
			rows = append(rows, row{keyCheckpoint, b.say("Signed tree head, line by line"), line})
		}
	}
	for _, r := range rows {
		if err := p.line(0, p.cell(mono, r.key), p.cell(plain, r.says), p.cell(mono, r.value)); err != nil {
			return err
		}
	}
	if err := p.section(b.say("How to check this binder")); err != nil {
		return err
	}
	for _, text := range []string{
		b.say("With the program and the journal: grainward verify BINDER.xlsx --dir DIR compares every cell with what the journal's first entries come to at the same moment."),
		b.say("Without the program: the sheet Leaves has the leaf hash of every entry this binder speaks of. It is SHA-256 over a byte 0 and then the entry's line in the journal, exactly as it stands there. A C2SP tlog-proof file leads from the leaf hash to the tree head above, and the signature below the tree head is checked with the plant's public key (C2SP signed note, Ed25519). The zip form of the binder has all of these, with a worked example."),
		b.say("Who made the binder and with which version is said by the binder alone and is not signed."),
	} {
		if err := p.paragraph(text, 165); err != nil {
			return err
		}
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return sw.end(ctx)
}

// leaves has the leaf hash of every entry the binder speaks of.
func (b *builder) leaves(ctx context.Context) (*table, error) {
	t, err := b.table(b.say("Leaves"), b.say("Leaves: the hash of every entry this binder speaks of"), []column{
		{b.say("Position"), 9, whole}, {b.say("Entry"), 34, mono}, {b.say("Kind"), 12.5, plain}, {b.say("Person"), 17, plain},
		{b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Leaf hash (hexadecimal)"), 60, mono},
	})
	if err != nil {
		return nil, err
	}
	st := b.in.Report.State
	for pos := range b.cited.all() {
		r := st.First(pos)
		if r == nil {
			continue
		}
		leaf, err := b.in.Leaf(pos)
		if err != nil {
			return nil, fmt.Errorf("leaf hash of the entry at position %d: %w", pos, err)
		}
		t.whole(int64(pos))
		t.text(r.ID.String())
		t.text(audit.KindWord(r.Kind, b.lang))
		t.text(b.names.signer(b.planAt(r.Happened), r))
		t.when(r.Happened)
		t.when(r.Recorded)
		t.put(textCell(hex.EncodeToString(leaf[:])))
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	return t, t.close(ctx)
}
