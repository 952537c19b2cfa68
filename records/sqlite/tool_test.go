package sqlite

import (
	"encoding/hex"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"grainward/records"
)

// TestStandardTool reads the file with the sqlite3 command (Debian package sqlite3), which shares no code with the
// driver's translation of SQLite, while a writer is open.
func TestStandardTool(t *testing.T) {
	tool, err := exec.LookPath("sqlite3")
	if err != nil {
		if os.Getenv("GRAINWARD_CI") != "" {
			t.Fatal("the sqlite3 command is missing")
		}
		t.Skip("the sqlite3 command is missing")
	}
	path := filepath.Join(t.TempDir(), "plant.db")
	s := mustOpen(t, path, Write)
	defer s.Close()
	var entries []records.Entry
	var rows []records.Row
	for i, note := range []string{"all well", "dampf & café 🌾 \"quoted\" \\ \u2028"} {
		e := records.Entry{ID: records.EntryID{0: 1, 6: 0x70, 8: 0x80, 15: byte(i)}, Happened: 1_935_817_689_000, Recorded: 1_935_817_690_000, By: "ana",
			Device: "office", Meaning: "verified", Kind: records.KindReview, Fact: &records.Review{From: 0, To: records.Position(i), Note: note}}
		row, err := records.Format(e)
		if err != nil {
			t.Fatal(err)
		}
		entries, rows = append(entries, e), append(rows, row)
	}
	rows = append(rows, records.Row{Bytes: []byte("{not JSON any more")}) // a damaged entry hides no other
	if err := s.Append(t.Context(), records.Batch{Rows: rows, Checkpoint: []byte("a head")}); err != nil {
		t.Fatal(err)
	}

	ask := func(args ...string) string {
		t.Helper()
		out, err := exec.Command(tool, append([]string{"-readonly"}, append(args[:len(args)-1:len(args)-1], path, args[len(args)-1])...)...).CombinedOutput()
		if err != nil {
			t.Fatalf("sqlite3 %q: %v\n%s", args, err, out)
		}
		return strings.TrimSpace(string(out))
	}
	if got := ask("PRAGMA integrity_check"); got != "ok" {
		t.Fatalf("integrity_check: %s", got)
	}
	if got := ask("SELECT count(*), (SELECT note FROM checkpoints WHERE size = 3) FROM entries"); got != "3|a head" {
		t.Fatalf("entries and tree head: %q", got)
	}
	for i, want := range rows {
		hexed := strings.Fields(strings.ReplaceAll(ask("SELECT hex(body), hex(leaf) FROM entries WHERE position = "+string(rune('0'+i))), "|", " "))
		if len(hexed) != 2 || !strings.EqualFold(hexed[0], hex.EncodeToString(want.Bytes)) || !strings.EqualFold(hexed[1], hex.EncodeToString(want.Leaf[:])) {
			t.Fatalf("entry %d is %q", i, hexed)
		}
	}
	var got []map[string]any
	if err := json.Unmarshal([]byte(ask("-json", "SELECT * FROM journal ORDER BY position")), &got); err != nil {
		t.Fatal(err)
	}
	if len(got) != 3 || got[2]["kind"] != nil || got[2]["position"] != 2.0 {
		t.Fatalf("the view has %v", got)
	}
	for i, e := range entries {
		want := map[string]any{"position": float64(i), "id": e.ID.String(), "happened": e.Happened.String(), "recorded": e.Recorded.String(), "person": "ana",
			"meaning": "verified", "kind": "review", "device": "office", "leaf": hex.EncodeToString(rows[i].Leaf[:])}
		for name, value := range want {
			if got[i][name] != value {
				t.Errorf("position %d: %s is %v, want %v", i, name, got[i][name], value)
			}
		}
		var fact records.Review
		text, _ := got[i]["fact"].(string)
		if err := json.Unmarshal([]byte(text), &fact); err != nil || fact.Note != e.Fact.(*records.Review).Note {
			t.Errorf("position %d: the fact is %q (%v)", i, text, err)
		}
		if len(got[i]) != len(want)+1 {
			t.Errorf("position %d: the columns are %v", i, got[i])
		}
	}
}
