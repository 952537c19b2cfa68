package records

// Correct replaces or withdraws an earlier entry; both stay. The target can itself be a correction:
//
//   - withdrawing a correction undoes it, and what it corrected counts again as before;
//   - replacing a correction changes what it put in place.
//
// Of several corrections of one entry, the one latest in the journal counts. What a replacement does not say (happened,
// by) is as first written. A correction that is withdrawn no longer has effect; that it was made stays on record.
type Correct struct {
	Target   EntryID      `json:"target" validate:"required"`
	Reason   string       `json:"reason" validate:"required,max=2000"`
	Withdraw bool         `json:"withdraw,omitzero"`
	With     *Replacement `json:"with,omitzero"` // what counts instead; absent when withdrawing
}

// Replacement is what counts instead of a corrected entry. Its kind is the kind of the entry first written.
type Replacement struct {
	Happened Instant    `json:"happened,omitzero"` // when the time was wrong too
	By       PersonCode `json:"by,omitzero" validate:"omitempty,code"`
	Kind     Kind       `json:"kind"`
	Fact     Fact       `json:"fact" validate:"-"` // checked by its own kind's rules
}

// Kind is KindCorrect.
func (*Correct) Kind() Kind { return KindCorrect }
