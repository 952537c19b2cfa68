package backendtest_test

import (
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"strings"
	"sync/atomic"
	"testing"

	"grainward/records"
	"grainward/records/backendtest"
	"grainward/records/memory"
)

// A suite is worth what it catches, so each mutant here is a good store that breaks one promise, and the suite has to
// fail on it, in the case named. The suite runs on a mutant in a child process: a failing test can not be undone in
// the one that watches.
type mutant struct {
	name   string
	caught string // the case that must fail, as go test writes it
	spoil  func(s *memory.Store) records.Store
}

// spoilt is a store whose methods are replaced where a field is set.
type spoilt struct {
	*memory.Store
	append      func(context.Context, records.Batch) error
	read        func(context.Context, records.Position, func(records.Position, records.Row) error) error
	head        func(context.Context) (records.Position, error)
	checkpoints func(context.Context, func(records.Position, []byte) error) error
	put         func(context.Context, []byte) (string, error)
	get         func(context.Context, string) ([]byte, error)
	close       func() error
}

func (s *spoilt) Append(ctx context.Context, b records.Batch) error {
	if s.append != nil {
		return s.append(ctx, b)
	}
	return s.Store.Append(ctx, b)
}

func (s *spoilt) Read(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
	if s.read != nil {
		return s.read(ctx, from, visit)
	}
	return s.Store.Read(ctx, from, visit)
}

func (s *spoilt) Head(ctx context.Context) (records.Position, error) {
	if s.head != nil {
		return s.head(ctx)
	}
	return s.Store.Head(ctx)
}

func (s *spoilt) Checkpoints(ctx context.Context, visit func(records.Position, []byte) error) error {
	if s.checkpoints != nil {
		return s.checkpoints(ctx, visit)
	}
	return s.Store.Checkpoints(ctx, visit)
}

func (s *spoilt) PutBlob(ctx context.Context, data []byte) (string, error) {
	if s.put != nil {
		return s.put(ctx, data)
	}
	return s.Store.PutBlob(ctx, data)
}

func (s *spoilt) GetBlob(ctx context.Context, key string) ([]byte, error) {
	if s.get != nil {
		return s.get(ctx, key)
	}
	return s.Store.GetBlob(ctx, key)
}

func (s *spoilt) Close() error {
	if s.close != nil {
		return s.close()
	}
	return s.Store.Close()
}

var mutants = []mutant{
	{"none", "", func(s *memory.Store) records.Store { return s }},
	{"takes a batch after any position", "a_conflict_changes_nothing", func(s *memory.Store) records.Store {
		return &spoilt{Store: s, append: func(ctx context.Context, b records.Batch) error {
			var err error
			if b.After, err = s.Head(ctx); err != nil {
				return err
			}
			return s.Append(ctx, b)
		}}
	}},
	{"lets every racer win", "of_appends_after_one_position_exactly_one_succeeds", func(s *memory.Store) records.Store {
		return &spoilt{Store: s, append: func(ctx context.Context, b records.Batch) error {
			err := s.Append(ctx, b)
			if head, _ := s.Head(ctx); records.IsConflict(err) && head == b.After+records.Position(len(b.Rows)) {
				return nil // as a check on the new end alone would have it
			}
			return err
		}}
	}},
	{"leaves half a batch when it refuses one", "a_conflict_changes_nothing", func(s *memory.Store) records.Store {
		return &spoilt{Store: s, append: func(ctx context.Context, b records.Batch) error {
			err := s.Append(ctx, b)
			if head, _ := s.Head(ctx); records.IsConflict(err) && b.After < head && head < b.After+records.Position(len(b.Rows)) {
				_ = s.Append(ctx, records.Batch{After: head, Rows: b.Rows[head-b.After:]})
			}
			return err
		}}
	}},
	{"takes an empty batch", "an_empty_batch_is_invalid", func(s *memory.Store) records.Store {
		return &spoilt{Store: s, append: func(ctx context.Context, b records.Batch) error {
			if len(b.Rows) == 0 {
				return nil
			}
			return s.Append(ctx, b)
		}}
	}},
	{"acknowledges and drops", "append_keeps_order_and_bytes", func(s *memory.Store) records.Store {
		var n atomic.Int64
		return &spoilt{Store: s, append: func(ctx context.Context, b records.Batch) error {
			if n.Add(1) == 3 {
				return nil
			}
			return s.Append(ctx, b)
		}}
	}},
	{"cuts long rows", "a_row_of_1_MiB", func(s *memory.Store) records.Store {
		return &spoilt{Store: s, append: func(ctx context.Context, b records.Batch) error {
			for i, r := range b.Rows {
				b.Rows[i].Bytes = r.Bytes[:min(len(r.Bytes), 1<<16)]
			}
			return s.Append(ctx, b)
		}}
	}},
	{"tidies the JSON", "append_keeps_order_and_bytes", func(s *memory.Store) records.Store {
		return &spoilt{Store: s, append: func(ctx context.Context, b records.Batch) error {
			for i, r := range b.Rows {
				b.Rows[i].Bytes = bytes.ReplaceAll(r.Bytes, []byte(", "), []byte(","))
			}
			return s.Append(ctx, b)
		}}
	}},
	{"shows one memory to all", "no_memory_is_shared", func(s *memory.Store) records.Store {
		var buf []byte
		return &spoilt{Store: s, read: func(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
			return s.Read(ctx, from, func(at records.Position, r records.Row) error {
				buf = append(buf[:0], r.Bytes...)
				return visit(at, records.Row{Bytes: buf, Leaf: r.Leaf})
			})
		}}
	}},
	{"wraps the visitor's error", "an_error_from_visit_ends_the_reading", func(s *memory.Store) records.Store {
		return &spoilt{Store: s, read: func(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
			if err := s.Read(ctx, from, visit); err != nil {
				return errors.Join(err)
			}
			return nil
		}}
	}},
	{"starts one late in the middle", "read_from_the_middle_and_beyond_the_end", func(s *memory.Store) records.Store {
		return &spoilt{Store: s, read: func(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
			if from == 9 {
				from++
			}
			return s.Read(ctx, from, visit)
		}}
	}},
	{"reads in pages that see new rows", "reading_while_others_append", func(s *memory.Store) records.Store {
		page := errors.New("page")
		return &spoilt{Store: s, read: func(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
			head, err := s.Head(ctx)
			if err != nil {
				return err
			}
			head = head / 4 * 4 // ends at a page's border, not at a batch's
			err = s.Read(ctx, from, func(at records.Position, r records.Row) error {
				if at >= head {
					return page
				}
				return visit(at, r)
			})
			if err == page {
				return nil
			}
			return err
		}}
	}},
	{"counts late", "append_keeps_order_and_bytes", func(s *memory.Store) records.Store {
		var last records.Position
		return &spoilt{Store: s, head: func(ctx context.Context) (records.Position, error) {
			now, err := s.Head(ctx)
			now, last = last, now
			return now, err
		}}
	}},
	{"gives the newest head first", "checkpoints_in_order_with_their_sizes", func(s *memory.Store) records.Store {
		return &spoilt{Store: s, checkpoints: func(ctx context.Context, visit func(records.Position, []byte) error) error {
			var again []func() error
			if err := s.Checkpoints(ctx, func(size records.Position, signed []byte) error {
				again = append(again, func() error { return visit(size, signed) })
				return nil
			}); err != nil {
				return err
			}
			for i := range again {
				if err := again[len(again)-1-i](); err != nil {
					return err
				}
			}
			return nil
		}}
	}},
	{"keeps blobs of any size", "sizes_a_blob_may_have", func(s *memory.Store) records.Store {
		return &spoilt{Store: s, put: func(ctx context.Context, data []byte) (string, error) {
			if len(data) > records.MaxBlob {
				data = data[:records.MaxBlob]
			}
			return s.PutBlob(ctx, data)
		}}
	}},
	{"gives nothing for an unknown blob", "a_blob_never_put_is_not_found", func(s *memory.Store) records.Store {
		return &spoilt{Store: s, get: func(ctx context.Context, key string) ([]byte, error) {
			data, err := s.GetBlob(ctx, key)
			if records.KindOf(err) == records.NotFound {
				return nil, nil
			}
			return data, err
		}}
	}},
	{"reads on after close", "close_twice_and_calls_after_close", func(s *memory.Store) records.Store {
		return &spoilt{Store: s, close: func() error { return nil }}
	}},
	{"minds being closed twice", "close_twice_and_calls_after_close", func(s *memory.Store) records.Store {
		var n atomic.Int64
		return &spoilt{Store: s, close: func() error {
			if n.Add(1) > 1 {
				return errors.New("closed already")
			}
			return s.Close()
		}}
	}},
}

const mutantVariable = "GRAINWARD_BACKENDTEST_MUTANT"

// TestOneMutant runs the suite on the mutant that the environment names; only the child process has one.
func TestOneMutant(t *testing.T) {
	for _, m := range mutants {
		if m.name == os.Getenv(mutantVariable) {
			backendtest.Run(t, func(*testing.T) backendtest.Opened {
				return backendtest.Opened{Name: "mutant " + m.name, Store: m.spoil(memory.New())}
			})
			return
		}
	}
	t.Skip("the child process of TestMutantsAreCaught")
}

func TestMutantsAreCaught(t *testing.T) {
	for _, m := range mutants {
		t.Run(m.name, func(t *testing.T) {
			t.Parallel()
			pattern := "^TestOneMutant$"
			if m.caught != "" {
				pattern += "/^" + m.caught + "$"
			}
			cmd := exec.CommandContext(t.Context(), os.Args[0], "-test.run="+pattern, "-test.v")
			cmd.Env = append(os.Environ(), mutantVariable+"="+m.name)
			out, err := cmd.CombinedOutput()
			if m.caught == "" {
				if err != nil {
					t.Fatalf("the suite fails on a good store: %v\n%s", err, out)
				}
				return
			}
			if err == nil || !strings.Contains(string(out), "--- FAIL: TestOneMutant/"+m.caught) {
				t.Fatalf("not caught by %q: %v\n%s", m.caught, err, out)
			}
		})
	}
}
