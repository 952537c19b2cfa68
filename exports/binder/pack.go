package binder

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

// packer takes the workbook's parts from the library in whatever order they come, compresses them into a file on the
// side, and hands them on in a fixed order with fixed dates. The library would gather the whole archive in memory, and
// puts long sheets into it in the order of a map.
type packer struct {
	*zip.Writer
	file *os.File
	ctx  context.Context
	b    *builder
}

// Create begins a part. It is where the library can be interrupted.
func (p *packer) Create(name string) (io.Writer, error) {
	if err := p.ctx.Err(); err != nil {
		return nil, err
	}
	w, err := p.Writer.Create(name)
	return &counted{w, p}, err
}

// counted reports how far packing is, in steps of about a row.
type counted struct {
	io.Writer
	p *packer
}

const bytesPerRow = 2048

func (c *counted) Write(data []byte) (int, error) {
	if err := c.p.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := c.Writer.Write(data)
	b := c.p.b
	b.packed += n
	if b.progress != nil {
		b.progress(min(b.done+b.packed/bytesPerRow, b.all-1), b.all)
	}
	return n, err
}

// pack writes the workbook out.
func (b *builder) pack(ctx context.Context, w io.Writer) (err error) {
	b.all = max(b.all, 2*b.done+1)
	file, err := os.CreateTemp(b.in.TempDir, "grainward-binder-*.zip")
	if err != nil {
		return fmt.Errorf("room for packing the binder: %w", err)
	}
	defer func() { err = errors.Join(err, file.Close(), os.Remove(file.Name())) }()
	p := &packer{Writer: zip.NewWriter(file), file: file, ctx: ctx, b: b}
	b.f.SetZipWriter(func(io.Writer) excelize.ZipWriter { return p })
	if _, err := b.f.WriteTo(io.Discard); err != nil {
		return fmt.Errorf("packing the binder: %w", err)
	}
	size, err := file.Seek(0, io.SeekEnd)
	if err != nil {
		return fmt.Errorf("packing the binder: %w", err)
	}
	parts, err := zip.NewReader(file, size)
	if err != nil {
		return fmt.Errorf("packing the binder: %w", err)
	}
	if err := inOrder(w, parts, b.in.Stamp.At.Time()); err != nil {
		return fmt.Errorf("writing the binder: %w", err)
	}
	b.report(b.all)
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
