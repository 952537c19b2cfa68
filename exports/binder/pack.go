package binder

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/klauspost/compress/flate"
	"github.com/xuri/excelize/v2"
)

// packer gathers the parts of the binder, compressed, in a file on the side, and hands them on in a fixed order with fixed
// dates. It compresses with another implementation of DEFLATE (RFC 1951) than Go's, which takes half the time: squeezing was a third
// of making a binder. The library would gather the whole archive in memory, and puts long sheets into it in the order of a map.
type packer struct {
	*zip.Writer
	b    *builder
	file *os.File
	have map[string]bool
}

func newPacker(b *builder) (*packer, error) {
	file, err := os.CreateTemp(b.in.TempDir, "grainward-binder-*.zip")
	if err != nil {
		return nil, fmt.Errorf("room for packing the binder: %w", errors.Join(err, b.f.Close()))
	}
	w := zip.NewWriter(file)
	w.RegisterCompressor(zip.Deflate, func(to io.Writer) (io.WriteCloser, error) { return flate.NewWriter(to, flate.DefaultCompression) })
	return &packer{Writer: w, b: b, file: file, have: map[string]bool{}}, nil
}

func (p *packer) close() error { return errors.Join(p.file.Close(), os.Remove(p.file.Name())) }

// take has the library write a workbook, and keeps the parts that named gives a name; "" is not wanted.
func (p *packer) take(ctx context.Context, f *excelize.File, named func(string) string) error {
	f.SetZipWriter(func(io.Writer) excelize.ZipWriter { return &taker{p, ctx, named} })
	_, err := f.WriteTo(io.Discard)
	return err
}

// taker is where the library writes a workbook's parts.
type taker struct {
	p     *packer
	ctx   context.Context
	named func(string) string
}

// Create begins a part. It is where the library can be interrupted.
func (t *taker) Create(name string) (io.Writer, error) {
	if err := t.ctx.Err(); err != nil {
		return nil, err
	}
	to := t.named(name)
	if to == "" || t.p.have[to] {
		return io.Discard, nil
	}
	t.p.have[to] = true
	w, err := t.p.Create(to)
	return &counted{w, t}, err
}

// AddFS is not used by the library for workbooks.
func (t *taker) AddFS(fs.FS) error { return errors.ErrUnsupported }

// Close leaves the archive open for the next workbook's parts.
func (t *taker) Close() error { return nil }

// counted reports how far packing is, in steps of about a row.
type counted struct {
	io.Writer
	t *taker
}

const bytesPerRow = 2048

func (c *counted) Write(data []byte) (int, error) {
	if err := c.t.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := c.Writer.Write(data)
	c.t.p.b.packed += n
	c.t.p.b.report()
	return n, err
}

// pack writes the binder out when all its sheets are in the archive.
func (b *builder) pack(ctx context.Context, w io.Writer) error {
	fail := func(err error) error { return fmt.Errorf("packing the binder: %w", err) }
	if err := b.archive.take(ctx, b.f, func(name string) string { return name }); err != nil {
		return fail(err)
	}
	if err := b.archive.Close(); err != nil {
		return fail(err)
	}
	size, err := b.archive.file.Seek(0, io.SeekEnd)
	if err != nil {
		return fail(err)
	}
	parts, err := zip.NewReader(b.archive.file, size)
	if err != nil {
		return fail(err)
	}
	if err := inOrder(w, parts, b.in.Stamp.At.Time()); err != nil {
		return fmt.Errorf("writing the binder: %w", err)
	}
	if b.progress != nil {
		b.progress(b.all, b.all)
	}
	return nil
}

// maxPart is where the archive's format changes to one that some spreadsheet programs refuse.
const maxPart = 1<<32 - 1

// inOrder copies an archive's parts, as they were compressed, in order of name with the table of contents first.
func inOrder(w io.Writer, from *zip.Reader, at time.Time) error {
	const contents = "[Content_Types].xml"
	slices.SortFunc(from.File, func(a, b *zip.File) int {
		if (a.Name == contents) != (b.Name == contents) {
			if a.Name == contents {
				return -1
			}
			return 1
		}
		return strings.Compare(a.Name, b.Name)
	})
	out := zip.NewWriter(w)
	for _, f := range from.File {
		if f.UncompressedSize64 > maxPart {
			return fmt.Errorf("%s has %d bytes, more than readers of the format take: choose a shorter period", f.Name, f.UncompressedSize64)
		}
		r, err := f.OpenRaw()
		if err != nil {
			return err
		}
		h := zip.FileHeader{Name: f.Name, Method: f.Method, Modified: at, CRC32: f.CRC32, CompressedSize64: f.CompressedSize64, UncompressedSize64: f.UncompressedSize64}
		part, err := out.CreateRaw(&h)
		if err != nil {
			return err
		}
		if _, err := io.Copy(part, r); err != nil {
			return err
		}
	}
	return out.Close()
}
