package auth

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"grainward/records"
)

// A password's length in characters. NIST SP 800-63B asks to take 64 at least and to demand no sorts of characters.
const (
	PasswordLeast = 12
	PasswordMost  = 200
)

// firstTried are what everybody tries first, of 12 characters or more, without spaces and in small letters. From memory,
// no source; what is made of one short group over and over, of a row of the keyboard or of names is found by rule.
var firstTried = []string{
	"passwordpassword", "password1234", "password12345", "password123456", "passw0rd1234", "p@ssw0rd1234", "mypassword123",
	"iloveyou1234", "iloveyouforever", "letmein12345", "letmeinplease", "welcome12345", "welcome123456", "changemeplease", "changeme1234",
	"administrator", "administrator1", "admin1234567", "trustno1trustno1", "correcthorsebatterystaple", "monkey123456", "sunshine1234",
	"1q2w3e4r5t6y", "1qaz2wsx3edc", "zaq12wsxcde3", "qwerty123456", "qwertyuiop123", "abc123abc123", "abcd12345678", "contrasena123", "contraseña123",
}

// runs are rows of signs that are typed without a thought.
var runs = []string{"abcdefghijklmnopqrstuvwxyz", "01234567890123456789", "qwertyuiopasdfghjklzxcvbnm", "qwertzuiopasdfghjklyxcvbnm"}

// CheckPassword says what is wrong with a password somebody wants to set, or nil. known are words that whoever guesses knows
// too: the person's name, the plant's. It never repeats the password.
func CheckPassword(password string, known ...string) error {
	bad := func(want string) error {
		return &records.Error{Kind: records.Invalid, What: "that password can not be used", Fields: []records.FieldError{{Field: "password", Want: want}}}
	}
	if n := utf8.RuneCountInString(password); n < PasswordLeast || n > PasswordMost || !utf8.ValidString(password) {
		return bad(fmt.Sprintf("%d to %d characters; several words are easily remembered", PasswordLeast, PasswordMost))
	}
	plain := folded(password)
	switch {
	case slices.Contains(firstTried, plain), oneGroup(plain), oneRun(plain):
		return bad("not one that everybody tries first")
	}
	left := plain
	for _, words := range append([]string{"grainward password"}, known...) {
		for word := range strings.FieldsSeq(words) {
			if word = folded(word); utf8.RuneCountInString(word) > 2 {
				left = strings.ReplaceAll(left, word, "")
			}
		}
	}
	if left != plain && utf8.RuneCountInString(left) < 6 {
		return bad("more in it than a name or this program's")
	}
	return nil
}

// folded is a text in small letters without what stands between words.
func folded(text string) string {
	return strings.Map(func(c rune) rune {
		if unicode.IsSpace(c) || c == '-' || c == '_' || c == '.' {
			return -1
		}
		return unicode.ToLower(c)
	}, text)
}

// oneGroup says whether a text is a group of at most four characters over and over.
func oneGroup(text string) bool {
	all := []rune(text)
	for n := 1; n <= 4; n++ {
		same := true
		for i := n; i < len(all); i++ {
			same = same && all[i] == all[i-n]
		}
		if same {
			return true
		}
	}
	return false
}

// oneRun says whether a text is part of one of runs, forwards or backwards.
func oneRun(text string) bool {
	back := []rune(text)
	slices.Reverse(back)
	return slices.ContainsFunc(runs, func(run string) bool { return strings.Contains(run, text) || strings.Contains(run, string(back)) })
}
