package pages

// Balance is what the masses of a period come to.
type Balance struct {
	Frame
	From, To, Unit   string
	All              bool
	Messages         []Message
	Counts           string
	CalledOut, Every Way
	Processes        []ProcessRow
	Newer, Older     string
	Whole, Bags      []Called // those that are not as expected
	WholeN, BagsN    int      // of all
	Inventory        []InventoryGroup
	Organic          []Row
}

// Verdict compares a figure with what the plan expects.
type Verdict struct {
	Mark, Word string
	Called     bool // it differs by more than the measurements can explain
}

// ProcessRow is one process on dry matter. In, Out, Loss and TwoU are empty when a moisture is missing.
type ProcessRow struct {
	When, What, Station           string
	Lots                          []Link
	In, Out, Loss, TwoU, Expected string
	Verdict                       Verdict
	ByProduct                     *Verdict // when it is called out
	Entry                         Link
}

// Called is a difference that is called out.
type Called struct {
	Lot        Link
	Says, TwoU string
	Verdict    Verdict
	Entry      Link // may be empty
}

// InventoryGroup is the items of one status.
type InventoryGroup struct {
	Status, StatusWord string
	Rows               []InventoryRow
}

// InventoryRow is an item: opening, received, made, used, sent, samples, differs, closing.
type InventoryRow struct {
	Item, Lots string
	Amounts    []string
	Differs    bool
}

func (*Balance) Name() string { return "balance" }
