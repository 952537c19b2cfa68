package binder

import (
	"archive/zip"
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"grainward/records"
	"grainward/records/ledger"
)

func mustZip(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	f, err := w.Create("a.txt")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(f, "a"); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func (p *plant) prove(in Input) Prove {
	head := p.book.View().Head
	return func(pos records.Position) ([]byte, error) {
		proof, err := p.book.Prove(pos, head)
		return ledger.FormatProof(proof), err
	}
}

func packed(t *testing.T, p *plant, in Input) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := WriteZip(t.Context(), &b, in, p.book.Rows, p.prove(in), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// unpacked is the package as files in a folder.
func unpacked(t *testing.T, data []byte) string {
	t.Helper()
	dir := t.TempDir()
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(dir, r); err != nil {
		t.Fatal(err)
	}
	return dir
}

// commands are the commands of the text on checking, in order: lines after "  $ ", and what follows one up to its END.
func commands(text string) (out []string) {
	lines := strings.Split(text, "\n")
	for i := 0; i < len(lines); i++ {
		cmd, ok := strings.CutPrefix(lines[i], "  $ ")
		if !ok {
			continue
		}
		for strings.Contains(cmd, "<<'END'") && !strings.HasSuffix(cmd, "\nEND") {
			i++
			cmd += "\n" + strings.TrimPrefix(lines[i], "  ")
		}
		out = append(out, cmd)
	}
	return out
}

// The text on checking is followed to the letter, with programs we did not write, on a good package and on spoiled ones.
func TestTheTextOnCheckingWorks(t *testing.T) {
	needs(t, "bash", "sha256sum", "openssl", "python3", "awk", "sed")
	p, in := filled(t)
	data := packed(t, p, in)
	follow := func(dir string) (string, error) {
		text, err := os.ReadFile(filepath.Join(dir, fileHow))
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command("bash", "-e", "-o", "pipefail", "-c", strings.Join(commands(string(text)), "\n"))
		cmd.Dir = dir
		out, err := cmd.CombinedOutput()
		return string(out), err
	}
	out, err := follow(unpacked(t, data))
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, want := range []string{"OK files", "OK signature", "OK 51 leaf hashes", "OK 51 proofs"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if hashes := regexp.MustCompile(`(?m)^[0-9a-f]{64}`).FindAllString(out, -1); len(hashes) != 2 || hashes[0] != hashes[1] {
		t.Errorf("the worked example gives %v", hashes)
	}
	for name, c := range map[string]struct{ file, old, new, stop string }{
		"an entry":     {fileLines, "72.4", "62.4", "position"},
		"a leaf hash":  {fileIndex, "", "", "position"},
		"a proof":      {proofName(0), "index 0", "index 1", "does not lead"},
		"the head":     {fileCheckpoint, "\n51\n", "\n52\n", "Signature Verification Failure"},
		"the manifest": {fileManifest, "", "", "FAILED"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := unpacked(t, data)
			path := filepath.Join(dir, filepath.FromSlash(c.file))
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			bad := bytes.Replace(b, []byte(c.old), []byte(c.new), 1)
			if c.old == "" {
				bad = bytes.Clone(b)
				at := bytes.IndexByte(bad, '\n') - 1
				if c.file == fileManifest {
					at = 0
				}
				bad[at] = '0' + (bad[at]-'0'+1)%10
			}
			if bytes.Equal(b, bad) {
				t.Fatal("nothing was spoiled")
			}
			if err := os.WriteFile(path, bad, 0o644); err != nil {
				t.Fatal(err)
			}
			if c.file != fileManifest { // whoever changes a file can change the manifest too
				sum, err := exec.Command("bash", "-c", "cd '"+dir+"' && awk '{print $2}' "+fileManifest+" | xargs sha256sum > m && mv m "+fileManifest).CombinedOutput()
				if err != nil {
					t.Fatalf("%v %s", err, sum)
				}
			}
			out, err := follow(dir)
			complete := err == nil && strings.Contains(out, "OK files") && strings.Contains(out, "OK signature") && strings.Contains(out, "leaf hashes\n") && strings.Contains(out, "proofs\n")
			if complete || !strings.Contains(out, c.stop) {
				t.Errorf("not found (%v):\n%s", err, out)
			}
		})
	}
}

func TestThePackageIsComplete(t *testing.T) {
	p, in := filled(t)
	data := packed(t, p, in)
	if !bytes.Equal(data, packed(t, p, in)) {
		t.Error("the same package twice gives other bytes")
	}
	dir := unpacked(t, data)
	read := func(name string) []byte {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	if !bytes.Equal(read(fileBinder), made(t, in)) {
		t.Error("the binder in it is not the one Write makes")
	}
	lines := bytes.Split(bytes.TrimSuffix(read(fileLines), []byte("\n")), []byte("\n"))
	index := strings.Split(strings.TrimSpace(string(read(fileIndex))), "\n")
	if len(lines) != len(index) {
		t.Fatalf("%d lines, %d in the index", len(lines), len(index))
	}
	for i, line := range lines {
		e, err := records.Parse(line)
		if err != nil {
			t.Fatalf("line %d: %v", i+1, err)
		}
		pos, ok := p.book.View().State.Find(e.ID)
		if !ok || !strings.HasPrefix(index[i], itoa(i+1)+" "+itoa(int(pos))+" ") {
			t.Errorf("line %d is position %d; the index says %q", i+1, pos, index[i])
		}
		proof, err := ledger.ParseProof(read(proofName(pos)))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := ledger.CheckProof(proof, ledger.LeafHash(line), strings.TrimSpace(string(read(fileKey)))); err != nil {
			t.Errorf("position %d: %v", pos, err)
		}
	}
}

func TestTheDrawIsOfThatManyAndOnlyByTheHead(t *testing.T) {
	var all positions
	for i := range records.Position(5000) {
		if i%3 != 0 {
			all.add(i)
		}
	}
	a := sample(all, ledger.LeafHash([]byte("a")))
	b := sample(all, ledger.LeafHash([]byte("b")))
	if len(a) != mostProofs || len(b) != mostProofs {
		t.Fatalf("%d and %d were drawn", len(a), len(b))
	}
	same := 0
	for _, pos := range a {
		if !all.has(pos) {
			t.Errorf("%d was drawn and is not there", pos)
		}
		for _, other := range b {
			if other == pos {
				same++
			}
		}
	}
	if same > mostProofs/2 {
		t.Errorf("another head draws %d of the same", same)
	}
	if few := sample(all[:2], ledger.Hash{}); len(few) != all[:2].len() {
		t.Errorf("of %d, %d were drawn", all[:2].len(), len(few))
	}
}

func TestAnUnsignedPackageIsRefused(t *testing.T) {
	p, in := filled(t)
	in.Stamp.Checkpoint = nil
	if err := WriteZip(t.Context(), io.Discard, in, p.book.Rows, p.prove(in), nil); records.KindOf(err) != records.Invalid {
		t.Errorf("got %v", err)
	}
}
