package demomill

import (
	"context"
	"fmt"
	"testing"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/ledger"
	"grainward/records/memory"
)

// written is the tree head of a mill that took some loads.
func written(t *testing.T, loads []Load, until records.Instant) (string, records.Position) {
	t.Helper()
	signer, _, err := ledger.GenerateKey(nil, "mill.example/journal")
	if err != nil {
		t.Fatal(err)
	}
	var now records.Instant
	b, err := book.Open(context.Background(), memory.New(), book.Options{Origin: "mill.example/journal", Signer: signer, Now: func() records.Instant { return now }})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if err := Write(context.Background(), b, &now, loads, until); err != nil {
		t.Fatal(err)
	}
	head := b.View().Head
	return head.Root.String(), head.Size
}

// The same loads give the same records; every entry is one the book takes; and nothing happens after the last moment.
func TestTheSameAgain(t *testing.T) {
	const start = records.Instant(1_750_000_000_000)
	var loads []Load
	for i := range 30 {
		loads = append(loads, Load{When: start + records.Instant(i)*5*24*3_600_000, Lot: records.LotCode(fmt.Sprintf("SM-%d", i)), Item: []records.ItemCode{"malt", "wheat-malt", "malt", "other-malt"}[i%4],
			Status: []records.Status{records.Organic, records.Organic, records.Conventional}[i%3], Pounds: 1000 + 55*i, Bags: 20, Papers: []string{fmt.Sprintf("delivery note %05d", 10_000+i)}})
	}
	until := loads[29].When + 10*24*3_600_000
	root, size := written(t, loads, until)
	if again, n := written(t, loads, until); again != root || n != size || size < 200 {
		t.Errorf("%d entries under %s, and then %d under %s", size, root, n, again)
	}
	if _, none := written(t, nil, until); none < 100 {
		t.Errorf("a mill without loads has %d entries: no walk-rounds", none)
	}
	if _, fewer := written(t, loads, loads[9].When); fewer >= size {
		t.Errorf("at an earlier moment it has %d entries, and later %d", fewer, size)
	}
}
