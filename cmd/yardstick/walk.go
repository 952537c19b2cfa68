package yardstick

import (
	"context"
	"database/sql"
	"errors"

	"gonum.org/v1/gonum/graph"
	"gonum.org/v1/gonum/graph/simple"
	"gonum.org/v1/gonum/graph/traverse"
	_ "modernc.org/sqlite" // the driver "sqlite"
)

// bareWalk is the plainest breadth-first walk: lot to lot over flat arrays, no masses, no steps.
type bareWalk struct{ first, to []int32 }

func newBareWalk(nLots int, pairs [][2]int32) *bareWalk {
	x := &bareWalk{make([]int32, nLots+1), make([]int32, len(pairs))}
	for _, p := range pairs {
		x.first[p[0]+1]++
	}
	for i := range nLots {
		x.first[i+1] += x.first[i]
	}
	next := append([]int32(nil), x.first...)
	for _, p := range pairs {
		x.to[next[p[0]]] = p[1]
		next[p[0]]++
	}
	return x
}

func (x *bareWalk) from(start int32) []int32 {
	seen := make([]bool, len(x.first)-1)
	queue := append(make([]int32, 0, len(seen)), start)
	seen[start] = true
	for i := 0; i < len(queue); i++ {
		l := queue[i]
		for _, next := range x.to[x.first[l]:x.first[l+1]] {
			if !seen[next] {
				seen[next] = true
				queue = append(queue, next)
			}
		}
	}
	return queue
}

// widest is, of the first lots, the one with most made of it.
func (x *bareWalk) widest() (start int32) {
	most := 0
	for l := range int32(herd) {
		if n := len(x.from(l)); n > most {
			start, most = l, n
		}
	}
	return start
}

// query is the edges in a table of SQLite, with an index that covers the question.
type query struct{ db *sql.DB }

const closure = `WITH RECURSIVE reached(lot) AS (SELECT ? UNION SELECT made FROM edge JOIN reached ON used = lot) SELECT `

func newQuery(ctx context.Context, path string, pairs [][2]int32) (q *query, err error) {
	db, err := sql.Open("sqlite", path)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, db.Close())
		}
	}()
	if _, err := db.ExecContext(ctx, `CREATE TABLE edge (used INTEGER NOT NULL, made INTEGER NOT NULL)`); err != nil {
		return nil, err
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return nil, err
	}
	put, err := tx.PrepareContext(ctx, `INSERT INTO edge VALUES (?, ?)`)
	if err != nil {
		return nil, errors.Join(err, tx.Rollback())
	}
	for _, p := range pairs {
		if _, err := put.Exec(p[0], p[1]); err != nil {
			return nil, errors.Join(err, tx.Rollback())
		}
	}
	if err := errors.Join(put.Close(), tx.Commit()); err != nil {
		return nil, err
	}
	_, err = db.ExecContext(ctx, `CREATE INDEX edge_used ON edge (used, made); ANALYZE`)
	return &query{db}, err
}

func (q *query) close() error { return q.db.Close() }

func (q *query) count(ctx context.Context, start int32) (n int, err error) {
	err = q.db.QueryRowContext(ctx, closure+`count(*) FROM reached`, start).Scan(&n)
	return n, err
}

func (q *query) all(ctx context.Context, start int32) (lots []int32, err error) {
	rows, err := q.db.QueryContext(ctx, closure+`lot FROM reached ORDER BY lot`, start)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var l int32
		if err := rows.Scan(&l); err != nil {
			return nil, err
		}
		lots = append(lots, l)
	}
	return lots, rows.Err()
}

// gonumGraph is gonum's own directed graph, with its own walks.
type gonumGraph struct{ g *simple.DirectedGraph }

func newGonum(nLots int, pairs [][2]int32) *gonumGraph {
	g := simple.NewDirectedGraph()
	for l := range nLots {
		g.AddNode(simple.Node(l))
	}
	for _, p := range pairs {
		g.SetEdge(simple.Edge{F: simple.Node(p[0]), T: simple.Node(p[1])})
	}
	return &gonumGraph{g}
}

func (x *gonumGraph) breadth(start int32) (lots []int32) {
	w := traverse.BreadthFirst{Visit: func(n graph.Node) { lots = append(lots, int32(n.ID())) }}
	w.Walk(x.g, simple.Node(start), nil)
	return lots
}

func (x *gonumGraph) depth(start int32) (lots []int32) {
	w := traverse.DepthFirst{Visit: func(n graph.Node) { lots = append(lots, int32(n.ID())) }}
	w.Walk(x.g, simple.Node(start), nil)
	return lots
}
