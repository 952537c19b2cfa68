// Package trust makes a plant's own certificate authority and, under it, the certificate that the server shows on the
// plant's network; or takes a certificate of the site's own. All of it is crypto/x509 and crypto/tls: no cryptography of ours.
//
// Browsers allow service workers and cameras on secure origins only, and no public authority gives certificates for names
// and addresses inside a plant. So the plant has an authority of its own, whose certificate is installed once on every phone.
//
// # The authority
//
// authority.key (PKCS #8, mode 0600) and authority.crt lie in the plant's directory. ECDSA P-256, SHA-256, ten years,
// basicConstraints CA with pathlen 0, keyUsage keyCertSign and cRLSign, extended key usage serverAuth, a random serial (RFC 5280,
// 4.1.2.2, by crypto/x509). Whoever has the key can pretend to be the names it may certify, towards every phone that trusts it;
// therefore it carries critical name constraints (RFC 5280, 4.2.1.10): only addresses of private networks (RFC 1918, 4193, 3927,
// 6598, loopback), the names .local (RFC 6762), .home.arpa (RFC 8375), .internal, .lan and localhost, the machine's own name and
// the names given when it was made. It can not be used to pretend to be anybody on the public network.
//
// In its last year it is made anew with the same key and the same name, so that a phone which trusts the old one goes on until
// that one ends.
//
// # The server's certificate
//
// Lives in memory only, with a new key each time: 90 days, made again when 30 are left, when the machine's names or addresses
// change, or when the clock was set back before it; nothing is restarted. Its beginning is set a day back, for phones whose clock is
// behind. It never outlives the authority. Browsers take at most 398 days from public authorities and 825 from private ones
// (support.apple.com/103769 for the second; the first is not asked of authorities that were added by hand), so 90 is inside both.
//
// The package knows files and certificates. It must not know HTTP, the web framework, or what is served.
package trust
