package lineage

import (
	"fmt"
	"math/big"
	"strings"
	"time"

	"grainward/audit/trace"
	"grainward/exports"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/lots"
)

// Input is what is to be shown.
type Input struct {
	Trace *trace.Trace
	Stamp exports.Stamp
	Lang  string // en or es
}

// Format is the version of Form.
const Format = 1

// Form is a trace with its words in one language. Instants are UTC.
type Form struct {
	Format    int                 `json:"format"`
	Stamp     []StampLine         `json:"stamp"`
	Subject   Subject             `json:"subject"`
	Direction string              `json:"direction"` // both, back, forward
	At        records.Instant     `json:"at"`        // entries that happened by then
	Zone      string              `json:"zone"`      // the plant's, IANA name
	Units     string              `json:"units"`     // in which the plant shows masses: lb or kg
	Estimated bool                `json:"estimated"` // something below is an estimate
	Account   Account             `json:"account"`
	Lots      []Lot               `json:"lots"`
	Paths     []Path              `json:"paths"`
	Movements []Movement          `json:"movements"`
	Consigned []Consignee         `json:"consignees"`
	Partners  []Partner           `json:"partners"`
	Touches   []Touch             `json:"touches"`
	Documents []Document          `json:"documents"`
	Cycles    [][]records.LotCode `json:"cycles"` // lots made from themselves: a slip in the records

	words words
	zone  *time.Location
	byLot map[records.LotCode]int
}

// StampLine is one line of the stamp: which journal, how far, when, by whom.
type StampLine struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// Subject is what was traced.
type Subject struct {
	Text string           `json:"text"` // as asked
	Of   string           `json:"of"`   // lot, label, partner, their-lot, station, agent, person
	Code string           `json:"code"`
	Bag  int              `json:"bag,omitzero"`
	From *records.Instant `json:"from,omitzero"` // of a station's stretch of time; absent when open
	To   *records.Instant `json:"to,omitzero"`
}

// Kg is an exact mass, written as decimal kilograms.
type Kg records.Micrograms

// MarshalText writes the exact decimal.
func (m Kg) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// String is the exact decimal.
func (m Kg) String() string {
	s := new(big.Rat).SetFrac64(int64(m), 1e9).FloatString(9)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// Account is the mass accounted for, of the subject and all that was made of it.
type Account struct {
	Basis     string   `json:"basis"` // dry: on dry matter; as-is: some moisture is missing
	Share     *float64 `json:"share"` // accounted for / came in; null when nothing came in
	Sums      Sums     `json:"sums"`  // on that basis
	AsIs      Sums     `json:"asIs"`
	Undried   []string `json:"undried,omitempty"`  // for want of whose moisture there is no account on dry matter
	Unbanded  []string `json:"unbanded,omitempty"` // processes with a loss for which the plan names no band
	Whole     bool     `json:"whole"`              // losses were held against the band for the whole way from the grain
	Estimated bool     `json:"estimated"`
}

// Sums are masses; received + joined = the sum of the others.
type Sums struct {
	Received    Kg `json:"receivedKg"`
	Joined      Kg `json:"joinedKg"`
	OnHand      Kg `json:"onHandKg"`
	HandedOver  Kg `json:"handedOverKg"`
	ByProduct   Kg `json:"byProductKg"`
	Samples     Kg `json:"samplesKg"`
	Destroyed   Kg `json:"destroyedKg"`
	Loss        Kg `json:"lossKg"`
	Unbanded    Kg `json:"unbandedKg"`
	Excess      Kg `json:"excessKg"`
	Unexplained Kg `json:"unexplainedKg"`
}

// Lot is one lot.
type Lot struct {
	Code      records.LotCode `json:"code"`
	Role      string          `json:"role"`          // subject, upstream, downstream
	Up        *int            `json:"up,omitzero"`   // steps from the subject, against the way of the goods
	Down      *int            `json:"down,omitzero"` // and along it
	Item      string          `json:"item"`          // code
	Title     string          `json:"title"`
	Stage     string          `json:"stage,omitzero"`
	Status    records.Status  `json:"status,omitzero"`
	Begins    records.Instant `json:"begins"`
	Share     float64         `json:"share"` // downstream: how much of it is subject goods; upstream: how much of it went into the subject
	Estimated bool            `json:"estimated"`
	Entered   Kg              `json:"enteredKg"`
	Used      Kg              `json:"usedKg"`
	Standing  Kg              `json:"standingKg"`
	Adjusted  Kg              `json:"adjustedKg"`
	Dry       *Kg             `json:"dryKg,omitzero"`
	Where     []Where         `json:"where"`
	TheirLots []string        `json:"theirLots,omitempty"`
	KilnDates []calendar.Date `json:"kilnDates,omitempty"`
	BestBy    []calendar.Date `json:"bestBy,omitempty"`
	Bags      int             `json:"bags,omitzero"`
	Held      bool            `json:"held"`
	Holds     []Hold          `json:"holds,omitempty"`
	Samples   int             `json:"samples"`
}

// Where is mass of a lot at a station or with a partner.
type Where struct {
	Station records.StationCode `json:"station,omitzero"`
	Holder  records.PartnerCode `json:"holder,omitzero"`
	Title   string              `json:"title"`
	Mass    Kg                  `json:"massKg"`
}

// Hold is a stop of a lot.
type Hold struct {
	From     records.Instant  `json:"from"`
	To       *records.Instant `json:"to,omitzero"`
	Why      string           `json:"why"`
	Rejected bool             `json:"rejected"`
	Entry    records.Position `json:"entry"`
}

// Path is one step from a lot to a lot.
type Path struct {
	From      records.LotCode     `json:"from"`
	To        records.LotCode     `json:"to"`
	What      string              `json:"what"`
	Station   records.StationCode `json:"station,omitzero"`
	When      records.Instant     `json:"when"`
	In        Kg                  `json:"inKg"`
	Out       Kg                  `json:"outKg"`
	Estimated bool                `json:"estimated"`
	Entry     records.Position    `json:"entry"`
}

// Movement is mass of a lot changing hands.
type Movement struct {
	When      records.Instant     `json:"when"`
	Kind      string              `json:"kind"` // received, handed-over, onward
	Lot       records.LotCode     `json:"lot"`
	Mass      Kg                  `json:"massKg"`
	Estimated bool                `json:"estimated"`
	Bags      int                 `json:"bags,omitzero"`
	From      string              `json:"from"` // code of the station or partner
	To        string              `json:"to"`
	Use       records.Use         `json:"use,omitzero"`
	Status    records.Status      `json:"status,omitzero"`
	TheirLot  string              `json:"theirLot,omitzero"`
	Packaging string              `json:"packaging,omitzero"`
	Carrier   records.PartnerCode `json:"carrier,omitzero"`
	Vehicle   string              `json:"vehicle,omitzero"`
	Papers    []string            `json:"papers,omitempty"`
	Signed    records.PersonCode  `json:"signed"`
	Accepted  []Acceptance        `json:"accepted,omitempty"`
	Forward   bool                `json:"forward"` // of the subject or what was made of it
	Entry     records.Position    `json:"entry"`
}

// Acceptance is the other party's signature.
type Acceptance struct {
	By    string           `json:"by"`
	At    records.Instant  `json:"at"`
	Mass  *Kg              `json:"massKg,omitzero"`
	Drawn bool             `json:"drawn,omitzero"` // a drawn signature is on file
	Entry records.Position `json:"entry"`
}

// Consignee is a partner that received some of it.
type Consignee struct {
	Partner   records.PartnerCode `json:"partner"`
	Name      string              `json:"name"`
	Direct    bool                `json:"direct"`
	Sent      Kg                  `json:"sentKg"`
	Onward    Kg                  `json:"onwardKg"`
	Standing  Kg                  `json:"standingKg"`
	Estimated bool                `json:"estimated"`
	Lots      []records.LotCode   `json:"lots"`
	First     records.Instant     `json:"first"`
	Last      records.Instant     `json:"last"`
	Confirmed bool                `json:"confirmed"`
}

// Partner is a firm that is named.
type Partner struct {
	Code     records.PartnerCode `json:"code"`
	Name     string              `json:"name"`
	Address  string              `json:"address,omitzero"`
	Roles    []string            `json:"roles,omitempty"`
	Contacts []Contact           `json:"contacts"`
}

// Contact is a person there.
type Contact struct {
	Name    string `json:"name"`
	Phone   string `json:"phone,omitzero"`
	Email   string `json:"email,omitzero"`
	Hours   string `json:"hours,omitzero"`
	AtNight bool   `json:"atNight"`
}

// Touch is a stretch in which a lot was in contact with a station.
type Touch struct {
	Lot     records.LotCode     `json:"lot"`
	Station records.StationCode `json:"station"`
	Title   string              `json:"title"`
	From    records.Instant     `json:"from"`
	To      *records.Instant    `json:"to,omitzero"` // absent while it is there
	Purge   bool                `json:"purge"`
	Before  *Clean              `json:"cleanBefore,omitzero"`
	After   *Clean              `json:"cleanAfter,omitzero"`
	Agents  []Agent             `json:"agents,omitempty"`
	People  []Person            `json:"people"`
	Entry   records.Position    `json:"entry"`
}

// Clean is a clean-out that passed.
type Clean struct {
	Done  records.Instant    `json:"done"`
	Title string             `json:"title"`
	By    records.PersonCode `json:"by"`
	Entry records.Position   `json:"entry"`
}

// Agent is one use of a cleaning agent.
type Agent struct {
	Code     records.AgentCode `json:"code"`
	Title    string            `json:"title"`
	Lot      string            `json:"lot,omitzero"`
	Strength string            `json:"strength,omitzero"`
	When     records.Instant   `json:"when"`
	Entry    records.Position  `json:"entry"`
}

// Person signed.
type Person struct {
	Code records.PersonCode `json:"code"`
	Name string             `json:"name"`
}

// Document is a certificate or a result.
type Document struct {
	Lot     records.LotCode      `json:"lot"`
	For     string               `json:"for"` // certificate, result
	Code    records.DocumentCode `json:"code,omitzero"`
	OnFile  bool                 `json:"onFile"`
	Held    bool                 `json:"valid"` // of a certificate: on the day of receipt
	Title   string               `json:"title,omitzero"`
	Type    string               `json:"type,omitzero"`
	Issuer  string               `json:"issuer,omitzero"`
	Number  string               `json:"number,omitzero"`
	SHA256  string               `json:"sha256,omitzero"`
	Results []string             `json:"results,omitempty"` // name and value
	When    records.Instant      `json:"when"`
	Entry   records.Position     `json:"entry"`
}

// open is an instant that may be open-ended.
func open(at records.Instant) *records.Instant {
	if at == lots.Forever || at == 0 {
		return nil
	}
	return &at
}

func kgOf(m *records.Micrograms) *Kg {
	if m == nil {
		return nil
	}
	k := Kg(*m)
	return &k
}

// mass is a mass in the plant's unit.
func (f *Form) mass(m Kg) string { return fmt.Sprintf("%.2f %s", f.amount(m), f.Units) }

// amount is the number of it.
func (f *Form) amount(m Kg) float64 {
	return records.Micrograms(m).In(f.Units)
}

// when is an instant on the plant's clock.
func (f *Form) when(at records.Instant) string {
	return at.Time().In(f.zone).Format("2006-01-02 15:04")
}
