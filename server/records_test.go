package server

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"slices"
	"sync"
	"testing"

	"grainward/records"
	"grainward/records/state"
)

var entryLinkInRow = regexp.MustCompile(`href="/entry/(\d+)"`)

// turned turns the pages of a list of n rows, so many on a page, and gives what the rows link to.
func (w *world) turned(list string, n, most int, link *regexp.Regexp) (all []string) {
	w.T.Helper()
	for page := range 1 + (n-1)/most {
		a := w.ask(crew, fmt.Sprintf("%s&page=%d", list, page), nil)
		w.wants(a, 200)
		for _, m := range link.FindAllStringSubmatch(a.body, -1) {
			all = append(all, m[1])
		}
	}
	return all
}

// The pages of the records, one after the other, are all that counts, newest first; and of one kind all of that kind.
func TestRecordsAreAllInOrder(t *testing.T) {
	w := randomWeek(t, 7)
	many := 0
	for _, kind := range []records.Kind{"", records.KindSignoff, records.KindExcuse, records.KindHold} {
		var all []*state.Record
		for _, row := range records.Kinds() {
			if kind == "" || row.Kind == kind {
				all = append(all, w.Book.View().State.Kind(row.Kind).All()...)
			}
		}
		slices.SortFunc(all, func(a, b *state.Record) int {
			return cmp.Or(cmp.Compare(b.Happened, a.Happened), cmp.Compare(b.Position, a.Position))
		})
		var want []string
		for _, rec := range all {
			want = append(want, fmt.Sprint(rec.Position))
		}
		got := w.turned("/records?kind="+string(kind), len(all), recordsMost, entryLinkInRow)
		if !slices.Equal(got, want) {
			t.Errorf("of kind %q the pages have\n%v\nin order they are\n%v", kind, got, want)
		}
		many = max(many, len(all))
	}
	if many <= recordsMost {
		t.Errorf("%d records are one page", many)
	}
}

// What is packed is what is sent otherwise, whoever asks at the same time: what packs is used again.
func TestPackedIsTheSame(t *testing.T) {
	w := plant(t)
	paths := []string{"/api/plan", "/static/style.css", "/week", "/api/openapi.json", "/plan", "/documents"}
	ask := func(path, takes string) []byte {
		req := newGet(path, w.token[lead])
		req.Header.Set("Accept-Encoding", takes)
		req.AddCookie(&http.Cookie{Name: deviceCookie, Value: w.key})
		res, err := w.app.Test(req, -1)
		if err != nil {
			t.Error(err)
			return nil
		}
		defer res.Body.Close()
		var in io.Reader = res.Body
		if packed := res.Header.Get("Content-Encoding") == "gzip"; packed != (takes != "") {
			t.Errorf("%s is packed: %v", path, packed)
		} else if packed {
			if in, err = gzip.NewReader(res.Body); err != nil {
				t.Error(err)
				return nil
			}
		}
		b, err := io.ReadAll(in)
		if err != nil {
			t.Errorf("%s: %v", path, err)
		}
		return b
	}
	var all sync.WaitGroup
	for _, path := range paths {
		plain := ask(path, "")
		for range 6 {
			all.Go(func() {
				if got := ask(path, "gzip"); len(got) == 0 || !bytes.Equal(got, plain) {
					t.Errorf("%s is %d bytes, and unpacked %d", path, len(plain), len(got))
				}
			})
		}
	}
	all.Wait()
}
