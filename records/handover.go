package records

// Handover says that goods changed hands across the fence. With the plan's partners it holds the six particulars of
// 21 CFR 1.345(a). It leaves a station of ours, or, for goods that stand with a partner, that partner.
type Handover struct {
	Confirms   EntryID       `json:"confirms,omitzero"` // an earlier handover that the other party now confirms; then only Lot, To, Weight and Received count
	Lot        LotCode       `json:"lot,omitzero" validate:"omitempty,lot"`
	From       StationCode   `json:"from,omitzero" validate:"omitempty,code"`
	FromHolder PartnerCode   `json:"fromHolder,omitzero" validate:"omitempty,code"` // onward from a warehouse
	To         PartnerCode   `json:"to" validate:"code"`
	Use        Use           `json:"use,omitzero" validate:"omitempty,oneof=sale storage feed compost landfill sample return"`
	Weight     Weight        `json:"weight,omitzero"`
	Bags       int           `json:"bags,omitzero" validate:"min=0,max=100000"`
	Last       bool          `json:"last,omitzero"`
	Via        []StationCode `json:"via,omitzero" validate:"max=20,dive,code"`
	Status     Status        `json:"status,omitzero" validate:"omitempty,oneof=organic-100 organic made-with conventional"` // as sold
	Label      string        `json:"label,omitzero" validate:"max=200"`                                                     // common name that travels with a by-product (21 CFR 117.95(b))
	Packaging  string        `json:"packaging,omitzero" validate:"max=100"`
	Container  string        `json:"container,omitzero" validate:"max=60"`
	Checked    *bool         `json:"checked,omitzero"` // container or vehicle examined before use (21 CFR 117.95(c)): fit or not
	Vehicle    Vehicle       `json:"vehicle,omitzero"`
	Papers     []string      `json:"papers,omitzero" validate:"max=20,dive,max=100"`
	Received   *Acceptance   `json:"received,omitzero"`
	Note       string        `json:"note,omitzero" validate:"max=2000"`
}

// Use is what goods were handed over for.
type Use string

const (
	Sale     Use = "sale"
	Storage  Use = "storage"
	Feed     Use = "feed"
	Compost  Use = "compost"
	Landfill Use = "landfill"
	ForTest  Use = "sample"
	Return   Use = "return"
)

// Acceptance is the other party's signature: a name, and beside it, when they drew one with a finger, the drawing.
type Acceptance struct {
	By        string  `json:"by" validate:"required,max=100"`
	At        Instant `json:"at,omitzero"`
	Mass      *Mass   `json:"mass,omitzero"`                                     // by their scale
	Signature string  `json:"signature,omitzero" validate:"omitempty,sha256hex"` // picture on file; it never stands without the name
}

// Kind is KindHandover.
func (*Handover) Kind() Kind { return KindHandover }
