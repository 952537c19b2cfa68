package server

import (
	"grainward/records"
)

// mayWrite is the least role that may write an entry of a kind: by a form, by the crew page, by the interface for programs.
// Whether the work was that person's to do is not asked here but judged from the records: what was done is written down.
var mayWrite = map[records.Kind]role{
	records.KindSignoff:   crew,
	records.KindReceipt:   crew,
	records.KindMove:      crew,
	records.KindProcess:   crew,
	records.KindHandover:  crew,
	records.KindCount:     crew,
	records.KindPurge:     crew,
	records.KindSample:    crew,
	records.KindDeviation: crew,
	records.KindDocument:  crew,
	records.KindResult:    crew,
	records.KindHold:      crew, // whoever sees that something is wrong stops it
	records.KindCorrect:   crew, // of their own; of anybody's for a lead

	records.KindPlan:    lead,
	records.KindAnswer:  lead,
	records.KindReview:  lead,
	records.KindExcuse:  lead,
	records.KindRelease: lead,
	records.KindDrill:   lead,
}

// notYou says that an entry is by somebody else than who is signed in.
type notYou struct {
	needs records.PersonCode // who has to be signed in
	gone  bool               // and no longer can be: they have left
}

func (e notYou) Error() string { return "the entry is by somebody else" }

// may says whether whoever asks may write an entry: it is signed by them, and their role reaches.
func (r *request) may(e records.Entry) error {
	if r.who == nil {
		return errSignInFirst
	}
	need, known := mayWrite[e.Kind]
	if !known {
		need = lead
	}
	if r.role < need && r.couldBe(need) {
		return errPasswordFirst
	}
	if r.role < need {
		return tooLow{r.role, need}
	}
	if e.By != r.who.Code {
		return notYou{needs: e.By, gone: r.atWork(e.By) == nil}
	}
	if fact, is := e.Fact.(*records.Correct); is {
		return r.mayCorrect(fact)
	}
	return nil
}

// mayCorrect: a person's own entries are theirs to correct, everybody's a lead's. A correction may not put work under another's
// name either, which would be a way around signing for oneself.
func (r *request) mayCorrect(fact *records.Correct) error {
	pos, ok := r.view.State.Find(fact.Target)
	if !ok {
		return nil // the book says that there is no such entry
	}
	first := r.view.State.First(r.view.State.Root(pos))
	switch {
	case first.Kind == records.KindPlan:
		return planStays()
	case r.role >= lead:
		return nil
	case r.view.State.First(pos).By != r.who.Code || first.By != r.who.Code || mayWrite[first.Kind] > r.role:
		return tooLow{r.role, lead}
	case fact.With != nil && fact.With.By != "" && fact.With.By != r.who.Code:
		return tooLow{r.role, lead}
	}
	return nil
}

func planStays() error {
	return &records.Error{Kind: records.Denied, What: "a plan is not corrected here", Do: "Adopt another plan; it is in force from then on."}
}
