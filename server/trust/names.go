package trust

import (
	"cmp"
	"net"
	"net/netip"
	"os"
	"slices"
	"strings"

	"grainward/records"
)

// Names are what the machine is reached by.
type Names struct {
	Hosts     []string     // in lower case; those given first
	Addresses []netip.Addr // IPv4 first
	Without   []string     // names and addresses the authority may not certify; they are left out
	Given     int          // how many of Hosts were given and not found
}

// Best are the names and addresses to tell people, the best first: those given, addresses, the machine's own names. Names of this
// machine alone, and patterns of names, are not among them.
func (n Names) Best() (all []string) {
	var hosts, addresses []string
	for _, h := range n.Hosts {
		if h != "localhost" && !strings.Contains(h, "*") {
			hosts = append(hosts, h)
		}
	}
	for _, ip := range n.Addresses {
		if !ip.IsLoopback() {
			addresses = append(addresses, ip.String())
		}
	}
	given := min(n.Given, len(hosts))
	return slices.Concat(hosts[:given], addresses, hosts[given:])
}

// permitted are the networks and the domains that an authority may certify whatever the machine is called.
var (
	permittedNets = []string{"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "100.64.0.0/10", "127.0.0.0/8",
		"fc00::/7", "fe80::/10", "::1/128"}
	permittedDomains = []string{"localhost", "local", "home.arpa", "internal", "lan"}
)

// Found are the machine's own names and addresses now, after those given. A name or address given that is none is an error.
// Link-local addresses are left out: they need a zone that no certificate can hold.
func Found(given []string) (n Names, err error) {
	for _, g := range given {
		if err := n.add(g); err != nil {
			return Names{}, err
		}
	}
	n.Given = len(n.Hosts)
	if host, err := os.Hostname(); err == nil {
		host, _, _ = strings.Cut(host, ".")
		if n.add(host) == nil {
			_ = n.add(host + ".local") // what multicast DNS calls the machine (RFC 6762)
		}
	}
	_ = n.add("localhost")
	all, err := net.InterfaceAddrs()
	if err != nil {
		return Names{}, &records.Error{Kind: records.Unavailable, What: "this machine does not say what its network addresses are", Err: err}
	}
	for _, a := range all {
		ipnet, ok := a.(*net.IPNet)
		if !ok {
			continue
		}
		if ip, ok := netip.AddrFromSlice(ipnet.IP); ok && !ip.Unmap().IsLinkLocalUnicast() {
			n.addAddress(ip)
		}
	}
	n.addAddress(netip.MustParseAddr("127.0.0.1"))
	n.addAddress(netip.MustParseAddr("::1"))
	slices.SortStableFunc(n.Addresses, func(a, b netip.Addr) int { return cmp.Compare(rankOf(a), rankOf(b)) })
	return n, nil
}

// rankOf puts addresses that phones are likely to reach first.
func rankOf(ip netip.Addr) int {
	switch {
	case ip.IsLoopback():
		return 2
	case ip.Is4():
		return 0
	}
	return 1
}

func (n *Names) add(text string) error {
	text = strings.ToLower(strings.TrimSuffix(strings.TrimSpace(text), "."))
	if ip, err := netip.ParseAddr(strings.Trim(text, "[]")); err == nil {
		n.addAddress(ip.WithZone(""))
		return nil
	}
	if !isHost(text) {
		return &records.Error{Kind: records.Invalid, What: "a name for the plant's network can not be used",
			Fields: []records.FieldError{{Field: "name", Value: text, Want: "a host name of letters, digits, hyphens and dots, such as malthouse.local, or an address"}}}
	}
	if !slices.Contains(n.Hosts, text) {
		n.Hosts = append(n.Hosts, text)
	}
	return nil
}

func (n *Names) addAddress(ip netip.Addr) {
	if ip = ip.Unmap(); !slices.Contains(n.Addresses, ip) {
		n.Addresses = append(n.Addresses, ip)
	}
}

// isHost says whether a text is a host name (RFC 1123, 2.1) of at most 253 characters.
func isHost(s string) bool {
	if s == "" || len(s) > 253 {
		return false
	}
	for label := range strings.SplitSeq(s, ".") {
		if label == "" || len(label) > 63 || label[0] == '-' || label[len(label)-1] == '-' {
			return false
		}
		for _, c := range []byte(label) {
			if c != '-' && (c < '0' || c > '9') && (c < 'a' || c > 'z') {
				return false
			}
		}
	}
	return true
}

// same says whether two lists of names would make the same certificate.
func (n Names) same(o Names) bool {
	return slices.Equal(n.Hosts, o.Hosts) && slices.Equal(n.Addresses, o.Addresses)
}
