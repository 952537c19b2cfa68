package pages

// Pages of the plant's network, of sheets to print, and of what is typed in from them.

func networkPages() []Page {
	return []Page{&Network{}}
}

// Code is a QR code, drawn as one path of a square.
type Code struct {
	Text string // what it says
	Size int    // of the square
	Path string // its dark modules
}

// Network says how a phone finds the server and comes to trust it.
type Network struct {
	Frame
	Whole       bool // with what only a lead needs
	Only        bool // this machine alone is answered
	Address     string
	Others      []string // the same, by other names
	Without     []string // names and addresses the authority may not certify
	Code        Code
	Own         bool // the certificate is the site's own
	Issuer      string
	LeafEnds    string
	Authority   string // its name, as a phone shows it
	Ends        string
	Print       []string // its fingerprint, in rows
	Install     string   // where phones get it
	InstallCode Code
}

func (*Network) Name() string { return "network" }
