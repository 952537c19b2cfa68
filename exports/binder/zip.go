package binder

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"slices"
	"time"

	"grainward/records"
	"grainward/records/ledger"
)

// The files of the package for a stranger, in the order in which they lie in it.
const (
	fileBinder     = "binder.xlsx"
	fileHow        = "HOW-TO-CHECK.txt"
	fileCheckpoint = "checkpoint"
	fileKey        = "plant.vkey"
	fileLines      = "journal.jsonl"
	fileIndex      = "journal.index"
	dirProofs      = "proofs/"
	fileManifest   = "MANIFEST.sha256"
)

// mostProofs is how many entries get a proof file; of more, that many are drawn (see sample).
const mostProofs = 200

// Journal gives stored rows from a position on, as records.Backend does.
type Journal func(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error

// Prove gives the tlog-proof file of the entry at a position, for the stamp's tree head.
type Prove func(records.Position) ([]byte, error)

// WriteZip writes the binder together with all that is needed to check it without this program: the entries it speaks of as canonical
// lines, where each stands, proofs, the signed tree head and its key, a manifest and the words to follow.
//
// The stamp must be signed. The bytes are as reproducible as the binder's.
func WriteZip(ctx context.Context, w io.Writer, in Input, journal Journal, prove Prove, progress func(done, all int)) (err error) {
	if !in.Stamp.Signed() {
		return &records.Error{Kind: records.Invalid, What: "the package can not be made: the tree head is not signed",
			Do: "Open the journal with the plant's key and try again."}
	}
	file, err := os.CreateTemp(in.TempDir, "grainward-binder-*.xlsx")
	if err != nil {
		return fmt.Errorf("room for the binder: %w", err)
	}
	defer func() { err = errors.Join(err, file.Close(), os.Remove(file.Name())) }()
	cited, err := write(ctx, file, in, progress)
	if err != nil {
		return err
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return fmt.Errorf("reading the binder again: %w", err)
	}
	p := &archive{zip: zip.NewWriter(w), at: in.Stamp.At.Time()}
	if err := p.fill(ctx, file, in, cited, journal, prove); err != nil {
		return fmt.Errorf("writing the package: %w", err)
	}
	return p.zip.Close()
}

// archive is the package being written; it keeps the manifest.
type archive struct {
	zip      *zip.Writer
	at       time.Time
	manifest bytes.Buffer
	name     string
	sum      hash.Hash
}

// begin starts a file; what is written to it is hashed for the manifest when the next one begins.
func (a *archive) begin(name string, method uint16) (io.Writer, error) {
	a.end()
	f, err := a.zip.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: a.at})
	if err != nil {
		return nil, err
	}
	a.name, a.sum = name, sha256.New()
	return io.MultiWriter(f, a.sum), nil
}

func (a *archive) end() {
	if a.sum != nil {
		fmt.Fprintf(&a.manifest, "%x  %s\n", a.sum.Sum(nil), a.name) // the form sha256sum -c reads
	}
	a.sum = nil
}

func (a *archive) add(name string, data []byte) error {
	w, err := a.begin(name, zip.Deflate)
	if err != nil {
		return err
	}
	_, err = w.Write(data)
	return err
}

func (a *archive) fill(ctx context.Context, binder io.Reader, in Input, cited positions, journal Journal, prove Prove) error {
	w, err := a.begin(fileBinder, zip.Store) // it is compressed already
	if err != nil {
		return err
	}
	if _, err := io.Copy(w, binder); err != nil {
		return err
	}
	drawn := sample(cited, in.Stamp.Root)
	if err := a.add(fileHow, howToCheck(in, cited.len(), drawn)); err != nil {
		return err
	}
	if err := a.add(fileCheckpoint, in.Stamp.Checkpoint); err != nil {
		return err
	}
	if err := a.add(fileKey, []byte(in.Stamp.VerifierKey+"\n")); err != nil {
		return err
	}
	index, err := a.lines(ctx, cited, journal)
	if err != nil {
		return err
	}
	if err := a.add(fileIndex, index); err != nil {
		return err
	}
	for _, pos := range drawn {
		proof, err := prove(pos)
		if err != nil {
			return fmt.Errorf("proof for the entry at position %d: %w", pos, err)
		}
		if err := a.add(proofName(pos), proof); err != nil {
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	a.end()
	f, err := a.zip.CreateHeader(&zip.FileHeader{Name: fileManifest, Method: zip.Deflate, Modified: a.at})
	if err != nil {
		return err
	}
	_, err = f.Write(a.manifest.Bytes())
	return err
}

func proofName(pos records.Position) string { return fmt.Sprintf("%s%09d.tlog-proof", dirProofs, pos) }

// lines writes the cited entries' canonical bytes, a line each, and gives the index: for each line its number, its
// position in the journal and its leaf hash. Canonical JSON has no line feed in it.
func (a *archive) lines(ctx context.Context, cited positions, journal Journal) ([]byte, error) {
	raw, err := a.begin(fileLines, zip.Deflate)
	if err != nil {
		return nil, err
	}
	w := bufio.NewWriter(raw)
	var index bytes.Buffer
	n, next := 0, records.Position(0)
	for pos := range cited.all() {
		next = pos
		break
	}
	err = journal(ctx, next, func(pos records.Position, row records.Row) error {
		if !cited.has(pos) {
			return nil
		}
		n++
		fmt.Fprintf(&index, "%d %d %s\n", n, pos, hex.EncodeToString(row.Leaf[:]))
		_, err := w.Write(append(row.Bytes, '\n'))
		return err
	})
	if err != nil {
		return nil, err
	}
	if n != cited.len() {
		return nil, &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the journal gave %d of the %d entries the binder speaks of", n, cited.len())}
	}
	return index.Bytes(), w.Flush()
}

// sample says which entries get a proof: all when there are at most mostProofs; else those for which SHA-256 over the
// tree head in base64, a space and the position in decimal is smallest. Nobody can choose the draw without changing the
// journal, and anybody can repeat it.
func sample(cited positions, root ledger.Hash) []records.Position {
	all := slices.Collect(cited.all())
	if len(all) <= mostProofs {
		return all
	}
	type lot struct {
		pos records.Position
		sum [sha256.Size]byte
	}
	lots := make([]lot, len(all))
	for i, pos := range all {
		lots[i] = lot{pos, sha256.Sum256(fmt.Appendf(nil, "%s %d", root, pos))}
	}
	slices.SortFunc(lots, func(a, b lot) int { return bytes.Compare(a.sum[:], b.sum[:]) })
	out := make([]records.Position, mostProofs)
	for i := range out {
		out[i] = lots[i].pos
	}
	slices.Sort(out)
	return out
}
