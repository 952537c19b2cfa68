package trust

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"grainward/records"
)

// readSecret reads a file with a private key. One that others can read or change is refused: it is no longer only the plant's.
func readSecret(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fileError("reading the private key", path, err)
	}
	if open := info.Mode().Perm() & 0o077; open != 0 {
		return nil, &records.Error{Kind: records.Denied, What: fmt.Sprintf("%s can be read or changed by others (mode %04o)", path, info.Mode().Perm()),
			Do: "Run `chmod 600 " + path + "`. If somebody may have copied it, remove it and its certificate to start a new one, and take the old one off every phone."}
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, fileError("reading the private key", path, err)
	}
	return b, nil
}

// parseKey reads one private key in PEM.
func parseKey(path string, text []byte) (crypto.Signer, error) {
	damaged := func(err error) error {
		return &records.Error{Kind: records.Invalid, What: path + " holds no private key in PEM", Do: "Put the right file back from a copy.", Err: err}
	}
	block, _ := pem.Decode(text)
	if block == nil {
		return nil, damaged(nil)
	}
	var key any
	var err error
	switch block.Type {
	case "PRIVATE KEY":
		key, err = x509.ParsePKCS8PrivateKey(block.Bytes)
	case "EC PRIVATE KEY":
		key, err = x509.ParseECPrivateKey(block.Bytes)
	case "RSA PRIVATE KEY":
		key, err = x509.ParsePKCS1PrivateKey(block.Bytes)
	case "ENCRYPTED PRIVATE KEY":
		return nil, &records.Error{Kind: records.Invalid, What: path + " is locked with a password, which nobody is there to give when the server starts",
			Do: "Take the password off (`openssl pkey -in FILE -out NEW`) and keep the file at mode 0600."}
	default:
		return nil, damaged(fmt.Errorf("it holds a %s", block.Type))
	}
	if err != nil {
		return nil, damaged(err)
	}
	signer, ok := key.(crypto.Signer)
	if !ok {
		return nil, damaged(fmt.Errorf("a key of type %T can not sign", key))
	}
	return signer, nil
}

// parseChain reads the certificates of a PEM file, the first of them the one that is meant.
func parseChain(path string, text []byte) (all []*x509.Certificate, err error) {
	for block, rest := pem.Decode(text); block != nil; block, rest = pem.Decode(rest) {
		if block.Type != "CERTIFICATE" {
			continue
		}
		c, err := x509.ParseCertificate(block.Bytes)
		if err != nil {
			return nil, &records.Error{Kind: records.Invalid, What: path + " holds a certificate that can not be read", Do: "Put the right file back from a copy.", Err: err}
		}
		all = append(all, c)
	}
	if len(all) == 0 {
		return nil, &records.Error{Kind: records.Invalid, What: path + " holds no certificate in PEM", Do: "Put the right file back from a copy."}
	}
	return all, nil
}

// belong says whether a key is that of a certificate.
func belong(cert *x509.Certificate, key crypto.Signer) bool {
	pub, ok := key.Public().(interface{ Equal(crypto.PublicKey) bool })
	return ok && pub.Equal(cert.PublicKey)
}

func encodeKey(key *ecdsa.PrivateKey) ([]byte, error) {
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	return pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der}), nil
}

func encodeCertificate(der []byte) []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
}

// replace writes a file whole or not at all, durably.
func replace(path string, data []byte, mode fs.FileMode) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-")
	if err != nil {
		return fileError("writing", path, err)
	}
	defer func() {
		if err != nil {
			err = fileError("writing", path, errors.Join(err, os.Remove(f.Name())))
		}
	}()
	_, err = f.Write(data)
	if err = errors.Join(err, f.Chmod(mode), f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

func exists(path string) (bool, error) {
	switch _, err := os.Stat(path); {
	case err == nil:
		return true, nil
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	default:
		return false, fileError("looking at", path, err)
	}
}

func fileError(doing, path string, err error) error {
	kind, do := records.Internal, ""
	switch {
	case errors.Is(err, fs.ErrNotExist):
		kind, do = records.NotFound, "Check the path."
	case errors.Is(err, fs.ErrPermission):
		kind, do = records.ReadOnly, "Run as a user who may."
	}
	return &records.Error{Kind: kind, What: fmt.Sprintf("%s at %s did not work", doing, path), Do: do, Err: err}
}
