package main

import (
	"database/sql"
	"errors"
	"os"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"

	"grainward/records/ledger"
)

// rewriteFile is a careful forger: rewrite FILE OLD NEW [KEY] changes a word wherever it stands, makes the hashes anew, and with the
// plant's private key every tree head too.
func rewriteFile(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: rewrite FILE OLD NEW [KEY]")
	}
	db, err := sql.Open("sqlite", ts.MkAbs(args[0]))
	ts.Check(err)
	defer func() { ts.Check(db.Close()) }()
	bodies := column[string](ts, db, "SELECT body FROM entries ORDER BY position")
	var tree ledger.Tree
	for at, body := range bodies {
		body = strings.ReplaceAll(body, args[1], args[2])
		leaf := ledger.LeafHash([]byte(body))
		tree.Append(leaf)
		_, err := db.Exec("UPDATE entries SET body = ?, leaf = ? WHERE position = ?", body, leaf[:], at)
		ts.Check(err)
	}
	if len(args) < 4 {
		return
	}
	text, err := os.ReadFile(ts.MkAbs(args[3]))
	ts.Check(err)
	key := strings.TrimSpace(string(text))
	origin, err := originOf(key, true)
	ts.Check(err)
	for _, size := range column[int64](ts, db, "SELECT size FROM checkpoints") {
		root, err := tree.RootAt(size)
		ts.Check(err)
		signed, err := ledger.Sign(ledger.Checkpoint{Origin: origin, Size: size, Root: root}, key)
		ts.Check(err)
		_, err = db.Exec("UPDATE checkpoints SET note = ? WHERE size = ?", string(signed), size)
		ts.Check(err)
	}
}

func column[T any](ts *testscript.TestScript, db *sql.DB, query string) (all []T) {
	rows, err := db.Query(query)
	ts.Check(err)
	for rows.Next() {
		var v T
		ts.Check(rows.Scan(&v))
		all = append(all, v)
	}
	ts.Check(errors.Join(rows.Err(), rows.Close()))
	return all
}
