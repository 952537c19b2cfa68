package ledger

import (
	"bytes"
	"encoding/base64"
	"encoding/hex"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// What Sign wrote is verified by the openssl program, from the note taken apart by hand.
func TestOpensslVerifiesOurSignature(t *testing.T) {
	openssl, err := exec.LookPath("openssl")
	if err != nil {
		if os.Getenv("GRAINWARD_CI") != "" {
			t.Fatal(err)
		}
		t.Skip("openssl is not installed")
	}
	p, _, verifierKey := workedExample(t)
	text, line, _ := strings.Cut(string(p.Checkpoint), "\n\n")
	decode := func(s string) []byte {
		b, err := base64.StdEncoding.DecodeString(s)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	signature := decode(strings.TrimSpace(strings.TrimPrefix(line, "— malthouse.example/log ")))[4:]
	public := decode(strings.SplitN(verifierKey, "+", 3)[2])[1:] // base64 may hold a plus too
	// Source: RFC 8410 section 4, the SubjectPublicKeyInfo of an Ed25519 key.
	spki, _ := hex.DecodeString("302a300506032b6570032100")

	dir := t.TempDir()
	verify := func(text string) error {
		for name, data := range map[string][]byte{"text": []byte(text), "sig": signature, "key": append(bytes.Clone(spki), public...)} {
			if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		cmd := exec.Command(openssl, "pkeyutl", "-verify", "-pubin", "-keyform", "DER", "-inkey", "key", "-rawin", "-in", "text", "-sigfile", "sig")
		cmd.Dir = dir
		out, err := cmd.CombinedOutput()
		t.Logf("%s", out)
		return err
	}
	if err := verify(text + "\n"); err != nil {
		t.Errorf("openssl does not accept the signature: %v", err)
	}
	if verify(strings.Replace(text, "\n3\n", "\n4\n", 1)+"\n") == nil {
		t.Error("openssl accepts the signature over another text")
	}
}
