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

// stretch is how many bytes of a sheet are handed over to be compressed at a time, and waiting how many such stretches may wait.
const (
	stretch = 256 << 10
	waiting = 4
)

// packer gathers the parts of the binder, compressed, in a file on the side, and hands them on in a fixed order with fixed
// dates. It compresses while rows are still being written, on another core where there is one, and with another implementation of
// DEFLATE (RFC 1951) than Go's, which takes half the time. The library would gather the whole archive in memory, and puts long sheets
// into it in the order of a map.
//
// An archive has one part open at a time. The sheet that first has a stretch to hand over has it until its end; another that is written
// meanwhile keeps its rows until then.
type packer struct {
	file  *os.File
	parts *zip.Writer // of the goroutine until ended
	jobs  chan job
	spare chan []byte   // stretches to be filled again
	stop  chan struct{} // closed after the error that no job comes after
	ended chan struct{}
	err   error // why it stopped

	open  *sheet   // whose part is open
	whole []*sheet // ended while another's was
}

// job is some bytes of a part; with a name they are the first of one.
type job struct {
	name string
	data []byte
}

func newPacker(b *builder) (*packer, error) {
	file, err := os.CreateTemp(b.in.TempDir, "grainward-binder-*.zip")
	if err != nil {
		return nil, fmt.Errorf("room for packing the binder: %w", errors.Join(err, b.f.Close()))
	}
	p := &packer{file: file, parts: zip.NewWriter(file), jobs: make(chan job, waiting), spare: make(chan []byte, waiting+2), stop: make(chan struct{}), ended: make(chan struct{})}
	deflate, err := flate.NewWriter(nil, flate.DefaultCompression)
	if err != nil {
		return nil, errors.Join(err, file.Close(), os.Remove(file.Name()), b.f.Close())
	}
	p.parts.RegisterCompressor(zip.Deflate, func(to io.Writer) (io.WriteCloser, error) {
		deflate.Reset(to)
		return deflate, nil
	})
	go p.compress(p.jobs)
	return p, nil
}

// compress does the jobs, in order, until there are no more or one fails.
func (p *packer) compress(jobs <-chan job) {
	defer close(p.ended)
	var to io.Writer
	for j := range jobs {
		if j.name != "" {
			to, p.err = p.parts.Create(j.name)
		}
		if p.err == nil {
			_, p.err = to.Write(j.data)
		}
		if p.err != nil {
			close(p.stop)
			return
		}
		if cap(j.data) > 2*stretch { // a sheet that had to wait
			continue
		}
		select {
		case p.spare <- j.data[:0]:
		default:
		}
	}
}

func (p *packer) do(j job) error {
	select {
	case p.jobs <- j:
		return nil
	case <-p.stop:
		return p.err
	}
}

// more takes what a sheet has written so far, when its part can be open.
func (p *packer) more(s *sheet) error {
	j := job{data: s.rows}
	switch p.open {
	case nil:
		p.open, j.name = s, s.part
	case s:
	default:
		return nil
	}
	select {
	case s.rows = <-p.spare:
	default:
		s.rows = make([]byte, 0, stretch+stretch/4)
	}
	return p.do(j)
}

// end takes the rest of a sheet, and then of those that waited for it.
func (p *packer) end(s *sheet) error {
	if p.open != nil && p.open != s {
		p.whole = append(p.whole, s)
		return nil
	}
	for _, s := range append([]*sheet{s}, p.whole...) {
		if err := p.more(s); err != nil {
			return err
		}
		p.open, s.rows = nil, nil
	}
	p.whole = nil
	return nil
}

// finish waits for what is still being compressed. There are no jobs after it.
func (p *packer) finish() error {
	if p.jobs != nil {
		close(p.jobs)
		p.jobs = nil
	}
	<-p.ended
	return p.err
}

func (p *packer) close() error {
	_ = p.finish() // whoever had to know of it does
	return errors.Join(p.file.Close(), os.Remove(p.file.Name()))
}

// partsOf has the library write a workbook's parts; to gives where each goes.
func partsOf(f *excelize.File, to func(name string) (io.Writer, error)) error {
	f.SetZipWriter(func(io.Writer) excelize.ZipWriter { return taker(to) })
	_, err := f.WriteTo(io.Discard)
	return err
}

// taker is where the library writes a workbook's parts.
type taker func(name string) (io.Writer, error)

func (t taker) Create(name string) (io.Writer, error) { return t(name) }

// AddFS is not used by the library for workbooks.
func (t taker) AddFS(fs.FS) error { return errors.ErrUnsupported }

// Close has nothing to do: the archive goes on.
func (t taker) Close() error { return nil }

// pack writes the binder out when all its sheets are in the archive.
func (b *builder) pack(ctx context.Context, w io.Writer) error {
	fail := func(err error) error { return fmt.Errorf("packing the binder: %w", err) }
	if err := b.archive.finish(); err != nil {
		return fail(err)
	}
	sheets := map[string]bool{}
	for i := range b.order {
		sheets[partName(i+1)] = true
	}
	if err := partsOf(b.f, func(name string) (io.Writer, error) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if sheets[name] { // it is there already, with rows
			return io.Discard, nil
		}
		return b.archive.parts.Create(name)
	}); err != nil {
		return fail(err)
	}
	if err := b.archive.parts.Close(); err != nil {
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
	if err := inOrder(ctx, w, parts, b.in.Stamp.At.Time()); err != nil {
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
func inOrder(ctx context.Context, w io.Writer, from *zip.Reader, at time.Time) error {
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
		if err := ctx.Err(); err != nil {
			return err
		}
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
