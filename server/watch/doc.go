// Package watch counts what a server does, for whoever keeps it running, and shows it in the text form that Prometheus reads
// (https://prometheus.io/docs/instrumenting/exposition_formats/).
//
// A Board is of one process; it has a Plant for each plant that is served. What happens is told to the Plant (a request answered, a
// batch appended); what simply is (how many entries, how large) is asked when somebody looks, by the functions in Looks, and never
// worked out for it: findings are those of the last judgement that was made for a page.
//
// Labels have few values, all of them the program's own: a plant's name as the operator gave it, a route as it stands in the table,
// a class of status, a code of refusal. An address, a name, a code of a person or lot is never one.
//
// The package knows no records, no routes and no web framework.
package watch
