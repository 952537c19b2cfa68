package book

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/state"
)

// Options say how a book is opened.
type Options struct {
	Origin   string                                        // the name of the journal in its checkpoints
	Signer   string                                        // the plant's private key as ledger.GenerateKey wrote it; empty opens for reading only
	Now      func() records.Instant                        // the clock; required for writing
	Progress func(done, all records.Position)              // called now and then while the journal is replayed; may be nil
	Shared   bool                                          // other processes write to the same store: follow them, and leave them their turn
	Appended func(rows int, took time.Duration, err error) // told of each batch after it was handed to the store; may be nil, must be quick
}

// Book is one plant's journal, open.
type Book struct {
	store  records.Store
	origin string
	signer string
	pen    *ledger.Signer // made of signer; nil without it
	now    func() records.Instant
	shared bool
	told   func(rows int, took time.Duration, err error)

	view  atomic.Pointer[View]
	grown atomic.Pointer[chan struct{}] // closed when a view with more entries is there

	mu   sync.RWMutex // guards st and tree against the committer; readers of proofs take it shortly
	st   *state.State
	tree ledger.Tree

	requests chan *request
	stop     chan struct{}
	stopped  chan struct{}
	closing  sync.Once
	behind   atomic.Pointer[failure] // why the last look at a shared store did not work
	failed   atomic.Pointer[failure] // the newest batch, when the store did not take it
}

// Head is the tree head of a journal.
type Head struct {
	Size       records.Position
	Root       ledger.Hash
	Checkpoint []byte // signed; empty when the book was opened without the key and none was stored at this size
}

// View is an unchanging look at the journal.
type View struct {
	State *state.State
	Head  Head
}

// Open replays the journal and is then ready to admit. The book owns the store and closes it.
func Open(ctx context.Context, store records.Store, o Options) (*Book, error) {
	b := &Book{store: store, origin: o.Origin, signer: o.Signer, now: o.Now, shared: o.Shared, told: o.Appended, st: state.New(),
		requests: make(chan *request), stop: make(chan struct{}), stopped: make(chan struct{})}
	if b.signer != "" {
		pen, err := ledger.NewSigner(b.signer)
		if err != nil {
			return nil, fmt.Errorf("the private key: %w", err)
		}
		b.pen = pen
	}
	if err := b.catchUp(ctx, o.Progress); err != nil {
		return nil, err
	}
	if err := b.checkHead(ctx); err != nil {
		return nil, err
	}
	stored, err := b.storedHead(ctx)
	if err != nil {
		return nil, err
	}
	if err := b.publish(stored); err != nil {
		return nil, err
	}
	if b.signer == "" {
		close(b.stopped)
		return b, nil
	}
	go b.run()
	return b, nil
}

// storedHead is the checkpoint that was stored with the last batch, for a book without the key; nil when there is none.
func (b *Book) storedHead(ctx context.Context) (signed []byte, err error) {
	if b.signer != "" {
		return nil, nil
	}
	err = b.store.Checkpoints(ctx, func(size records.Position, note []byte) error {
		if size == b.st.Size() {
			signed = append([]byte(nil), note...)
		}
		return nil
	})
	return signed, err
}

// Close waits for the batch under way, refuses what is still waiting, and closes the store.
func (b *Book) Close() error {
	b.closing.Do(func() { close(b.stop) })
	<-b.stopped
	return b.store.Close()
}

// View is the journal as it is now.
func (b *Book) View() *View { return b.view.Load() }

// Changed is closed once the journal has grown beyond what View gave when Changed was asked, or before. Ask it first and look
// at the view after that: whatever is written in between closes it. It stays open when the book is closed.
func (b *Book) Changed() <-chan struct{} { return *b.grown.Load() }

// Leaf is the leaf hash of the entry at a position.
func (b *Book) Leaf(pos records.Position) (ledger.Hash, error) {
	b.mu.RLock()
	defer b.mu.RUnlock()
	return b.tree.Leaf(int64(pos))
}

// Prove shows that the entry at a position is in the tree of a head.
func (b *Book) Prove(pos records.Position, head Head) (ledger.Proof, error) {
	b.mu.RLock()
	defer b.mu.RUnlock()
	hashes, err := b.tree.Inclusion(int64(pos), int64(head.Size))
	if err != nil {
		return ledger.Proof{}, &records.Error{Kind: records.NotFound, What: fmt.Sprintf("there is no entry at position %d; the journal has %d entries, counted from 0", pos, head.Size), Err: err}
	}
	return ledger.Proof{Index: int64(pos), Hashes: hashes, Checkpoint: head.Checkpoint}, nil
}

// HeadAt is the head the journal had at an earlier size, signed anew when the book holds the key.
func (b *Book) HeadAt(size records.Position) (Head, error) {
	b.mu.RLock()
	root, err := b.tree.RootAt(int64(size))
	b.mu.RUnlock()
	if err != nil {
		return Head{}, &records.Error{Kind: records.NotFound, What: fmt.Sprintf("the journal never had %d entries", size), Err: err}
	}
	return b.sign(size, root)
}

func (b *Book) sign(size records.Position, root ledger.Hash) (Head, error) {
	h := Head{Size: size, Root: root}
	if b.pen == nil {
		return h, nil
	}
	signed, err := b.pen.Sign(ledger.Checkpoint{Origin: b.origin, Size: int64(size), Root: root})
	if err != nil {
		return h, fmt.Errorf("signing the tree head at size %d: %w", size, err)
	}
	h.Checkpoint = signed
	return h, nil
}

// Rows reads stored rows from a position on; see records.Backend.
func (b *Book) Rows(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
	return b.store.Read(ctx, from, visit)
}

// PutBlob keeps a document or photo and returns its SHA-256. It is put there before the entry that names it.
func (b *Book) PutBlob(ctx context.Context, data []byte) (string, error) {
	if b.signer == "" {
		return "", readOnly()
	}
	return b.store.PutBlob(ctx, data)
}

// Blob is the bytes of a document or photo.
func (b *Book) Blob(ctx context.Context, key string) ([]byte, error) {
	return b.store.GetBlob(ctx, key)
}

func readOnly() error {
	return &records.Error{Kind: records.ReadOnly, What: "the journal is open for reading only"}
}

// publish makes the state as it is the one readers see.
func (b *Book) publish(checkpoint []byte) error {
	head := Head{Size: b.st.Size(), Root: b.tree.Root(), Checkpoint: checkpoint}
	if checkpoint == nil {
		var err error
		if head, err = b.sign(head.Size, head.Root); err != nil {
			return err
		}
	}
	before := b.view.Swap(&View{State: b.st.Snapshot(), Head: head})
	if before == nil || before.Head.Size != head.Size {
		next := make(chan struct{})
		if waiting := b.grown.Swap(&next); waiting != nil {
			close(*waiting)
		}
	}
	return nil
}

// stretch is how many rows are read, decoded and applied together.
const stretch = 4096

// part is a stretch of the journal on its way from the store to the state.
type part struct {
	rows    []records.Row
	entries []records.Entry
	err     error // why it ends here
}

// catchUp reads and applies what the store holds beyond the state. While one stretch is read, the one before it is decoded, on
// every core, and the one before that is applied, in order: a plant that starts waits for the slowest of the three and not for
// their sum.
func (b *Book) catchUp(ctx context.Context, progress func(done, all records.Position)) error {
	all, err := b.store.Head(ctx)
	if err != nil {
		return err
	}
	start := b.st.Size()
	if start == all {
		return nil
	}
	ctx, stop := context.WithCancel(ctx)
	var under sync.WaitGroup // the store may be closed once catchUp has come back
	defer under.Wait()
	defer stop()
	read, decoded := make(chan part), make(chan part)
	under.Go(func() { b.readParts(ctx, start, read) })
	under.Go(func() { decodeParts(ctx, start, read, decoded) })
	for p := range decoded {
		if p.err != nil {
			return p.err
		}
		b.mu.Lock()
		for i, e := range p.entries {
			b.st.Apply(b.st.Size(), e)
			b.tree.Append(p.rows[i].Leaf)
		}
		b.mu.Unlock()
		if progress != nil {
			progress(b.st.Size()-start, all-start)
		}
	}
	return ctx.Err()
}

// readParts reads the store from a position and closes to when it is through, or when a part has told why not.
func (b *Book) readParts(ctx context.Context, from records.Position, to chan<- part) {
	defer close(to)
	var rows []records.Row
	err := b.store.Read(ctx, from, func(_ records.Position, row records.Row) error {
		if rows == nil {
			rows = make([]records.Row, 0, stretch)
		}
		if rows = append(rows, row); len(rows) < stretch {
			return nil
		}
		p := part{rows: rows}
		rows = nil
		return send(ctx, to, p)
	})
	if len(rows) > 0 {
		err = errors.Join(send(ctx, to, part{rows: rows}), err)
	}
	if err != nil {
		_ = send(ctx, to, part{err: err}) // or nobody waits for it any more
	}
}

func decodeParts(ctx context.Context, first records.Position, from <-chan part, to chan<- part) {
	defer close(to)
	for p := range from {
		if p.err == nil {
			p.entries, p.err = decode(p.rows, first)
			first += records.Position(len(p.rows))
		}
		if send(ctx, to, p) != nil || p.err != nil {
			return
		}
	}
}

// send hands a part on, unless nobody wants it any more.
func send(ctx context.Context, to chan<- part, p part) error {
	select {
	case to <- p:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// decode compares each row with its leaf hash and reads its entry.
func decode(rows []records.Row, first records.Position) ([]records.Entry, error) {
	entries := make([]records.Entry, len(rows))
	workers := min(runtime.GOMAXPROCS(0), len(rows))
	faults := make([]error, workers)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for i := w; i < len(rows) && faults[w] == nil; i += workers {
				pos := first + records.Position(i)
				if ledger.LeafHash(rows[i].Bytes) != rows[i].Leaf {
					faults[w] = corrupt(pos, errors.New("its bytes are not those that were hashed when it was written"))
					continue
				}
				e, err := records.ParseTrusted(rows[i].Bytes)
				if err != nil {
					faults[w] = corrupt(pos, err)
				}
				entries[i] = e
			}
		})
	}
	wg.Wait()
	return entries, errors.Join(faults...)
}

func corrupt(pos records.Position, err error) error {
	return &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the entry at position %d can not be read", pos), Err: err,
		Do: "Run `grainward verify` to see everything that is damaged, and restore a backup; the damaged file keeps what it has."}
}
