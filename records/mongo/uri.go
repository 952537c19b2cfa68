package mongo

import (
	"regexp"

	"go.mongodb.org/mongo-driver/x/mongo/driver/connstring"

	"grainward/records"
)

// databaseName is what both MongoDB and FerretDB take.
var databaseName = regexp.MustCompile(`^[a-zA-Z0-9_-]{1,63}$`)

// databaseOf is the name of the database in a URI.
func databaseOf(uri string) (string, error) {
	parsed, err := connstring.ParseAndValidate(uri)
	if err != nil {
		return "", wrongURI("mongodb://HOST[:PORT][,...]/DATABASE[?options]")
	}
	if !databaseName.MatchString(parsed.Database) {
		return "", wrongURI("one with a database name of letters, digits, _ and - after the hosts, such as mongodb://db1,db2,db3/mill?replicaSet=grain")
	}
	return parsed.Database, nil
}

// CheckURI says whether a URI can be opened, as far as that can be seen without asking anybody.
func CheckURI(uri string) error {
	_, _, err := clientOptions(uri)
	return err
}

// wrongURI does not quote the URI, which may hold a password.
func wrongURI(want string) error {
	return &records.Error{Kind: records.Invalid, What: "the MongoDB URI can not be used", Fields: []records.FieldError{{Field: "URI", Want: want}},
		Do: "Characters such as @ : / in a name or password are written as %40 %3A %2F."}
}
