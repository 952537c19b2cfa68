package main

import (
	"context"
	"database/sql"
	"fmt"
	"net/url"
	"path/filepath"
	"time"

	_ "modernc.org/sqlite" // the driver "sqlite", which FerretDB uses too
)

// FerretDB 1.24.2 makes its unique index on the expression _ferretdb_sjson->"_id" and then looks for an equal _id with
// _ferretdb_sjson->'$._id', which SQLite does not take for the same: every exact look-up scans the collection. A MongoDB server
// has an index on _id always, so this program makes the one that those look-ups use, soon after a collection is there.
const exact = `create index if not exists %q on %q (_ferretdb_sjson->'$._id')`

// indexAll looks for new collections until ctx ends. It is only about speed, so what does not work is tried again.
func indexAll(ctx context.Context, dir string) {
	tick := time.NewTicker(100 * time.Millisecond)
	defer tick.Stop()
	done := map[string]bool{}
	for {
		files, _ := filepath.Glob(filepath.Join(dir, "*.sqlite"))
		for _, path := range files {
			indexFile(ctx, path, done)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

func indexFile(ctx context.Context, path string, done map[string]bool) {
	dsn := (&url.URL{Scheme: "file", Path: path, RawQuery: "mode=rw&_pragma=busy_timeout(2000)"}).String()
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return
	}
	defer db.Close()
	rows, err := db.QueryContext(ctx, "select table_name from _ferretdb_collections")
	if err != nil {
		return
	}
	var tables []string
	for rows.Next() {
		var name string
		if rows.Scan(&name) == nil && !done[path+" "+name] {
			tables = append(tables, name)
		}
	}
	if err := rows.Close(); err != nil {
		return
	}
	for _, name := range tables {
		if _, err := db.ExecContext(ctx, fmt.Sprintf(exact, name+"_exact", name)); err == nil {
			done[path+" "+name] = true
		}
	}
}
