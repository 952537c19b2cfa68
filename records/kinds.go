package records

import "slices"

// Kind names what an entry says. It is written in the envelope and decides how the fact is read.
type Kind string

const (
	KindPlan      Kind = "plan"
	KindSignoff   Kind = "signoff"
	KindDeviation Kind = "deviation"
	KindAnswer    Kind = "answer"
	KindReview    Kind = "review"
	KindExcuse    Kind = "excuse"
	KindDocument  Kind = "document"
	KindCorrect   Kind = "correct"

	KindReceipt  Kind = "receipt"
	KindMove     Kind = "move"
	KindProcess  Kind = "process"
	KindHandover Kind = "handover"
	KindCount    Kind = "count"
	KindHold     Kind = "hold"
	KindRelease  Kind = "release"
	KindPurge    Kind = "purge"
	KindResult   Kind = "result"
	KindSample   Kind = "sample"
	KindDrill    Kind = "drill"
)

// noun is what a person calls an entry of the kind.
func (k Kind) noun() string {
	switch k {
	case KindSignoff:
		return "sign-off"
	case KindCorrect:
		return "correction"
	}
	return string(k)
}

// AboutGoods says whether entries of the kind tell what became of goods.
func (k Kind) AboutGoods() bool {
	switch k {
	case KindReceipt, KindMove, KindProcess, KindHandover, KindCount, KindHold, KindRelease, KindPurge, KindResult, KindSample:
		return true
	}
	return false
}

// Fact is what an entry says happened. The concrete types are the rows of Kinds and nothing else.
type Fact interface {
	// Kind is the envelope's kind for this fact.
	Kind() Kind
}

// KindRow is one row of the table of kinds.
type KindRow struct {
	Kind     Kind
	Says     string      // for the help, the JSON schema and the binder
	New      func() Fact // an empty fact to decode into
	Meanings []Meaning   // what a signature under it can mean; the first is the usual one
	MaxBytes int         // canonical bytes of a whole entry of this kind
}

// maxEntry keeps an entry within what a C2SP tlog-tiles bundle can hold, should a journal ever be published as tiles.
const maxEntry = 65_535

// maxPlan is larger: a plan entry carries the whole text of the plan.
const maxPlan = 1 << 20

// Kinds is the whole table. A new kind is one row here and one file beside this one.
func Kinds() []KindRow {
	return []KindRow{
		{KindPlan, "a plan was adopted", func() Fact { return new(Adoption) }, []Meaning{Approved}, maxPlan},
		{KindSignoff, "a task was done at a station", func() Fact { return new(Signoff) }, []Meaning{Performed, Verified}, maxEntry},
		{KindDeviation, "something went wrong", func() Fact { return new(Deviation) }, []Meaning{Performed, Verified}, maxEntry},
		{KindAnswer, "a finding or deviation was answered", func() Fact { return new(Answer) }, []Meaning{Verified, Approved, Performed}, maxEntry},
		{KindReview, "a range of entries was verified", func() Fact { return new(Review) }, []Meaning{Verified}, maxEntry},
		{KindExcuse, "a stretch of due work was excused", func() Fact { return new(Excuse) }, []Meaning{Approved}, maxEntry},
		{KindDocument, "a document was put on file", func() Fact { return new(Document) }, []Meaning{Received, Performed, Approved, Verified}, maxEntry},
		{KindCorrect, "an earlier entry was replaced or withdrawn", func() Fact { return new(Correct) }, []Meaning{Performed, Verified, Approved}, maxPlan},

		{KindReceipt, "goods were taken over from a partner", func() Fact { return new(Receipt) }, []Meaning{Received}, maxEntry},
		{KindMove, "goods went from one station to another", func() Fact { return new(Move) }, []Meaning{Performed}, maxEntry},
		{KindProcess, "inputs became outputs at a station", func() Fact { return new(Process) }, []Meaning{Performed}, maxEntry},
		{KindHandover, "goods changed hands across the fence", func() Fact { return new(Handover) }, []Meaning{Released, Received}, maxEntry},
		{KindCount, "a station's contents were counted", func() Fact { return new(Count) }, []Meaning{Performed, Verified}, maxEntry},
		{KindHold, "lots were stopped", func() Fact { return new(Hold) }, []Meaning{Performed, Approved, Verified}, maxEntry},
		{KindRelease, "lots were freed, or rejected", func() Fact { return new(Release) }, []Meaning{Approved, Released}, maxEntry},
		{KindPurge, "clean grain was run through equipment and diverted", func() Fact { return new(Purge) }, []Meaning{Performed}, maxEntry},
		{KindResult, "a lot was tested", func() Fact { return new(Result) }, []Meaning{Performed, Verified, Received}, maxEntry},
		{KindSample, "retained samples were set aside or thrown out", func() Fact { return new(Sample) }, []Meaning{Performed}, maxEntry},
		{KindDrill, "a step of a recall drill was taken", func() Fact { return new(Drill) }, []Meaning{Performed, Verified, Approved}, maxEntry},
	}
}

var kindTable = func() map[Kind]KindRow {
	m := map[Kind]KindRow{}
	for _, row := range Kinds() {
		m[row.Kind] = row
	}
	return m
}()

// RowOf is the kind's row, and whether there is one.
func RowOf(k Kind) (KindRow, bool) {
	row, ok := kindTable[k]
	return row, ok
}

// Meaning is what the signature under an entry stands for (21 CFR 11.50(a) as the model).
type Meaning string

const (
	Performed Meaning = "performed"
	Verified  Meaning = "verified"
	Approved  Meaning = "approved"
	Received  Meaning = "received"
	Released  Meaning = "released"
)

// Allows says whether a signature under this kind can have the meaning.
func (row KindRow) Allows(m Meaning) bool { return slices.Contains(row.Meanings, m) }
