package records

import "sync"

// told holds one copy of each set of answers seen while replaying. Sign-offs repeat themselves ("yes, yes, passed" every morning
// for years; a reading has few values an instrument can show), and answers are the larger half of one. Facts are never
// changed once they are read, so what is equal can be the same. Like known in codes.go it stops growing at a bound.
var told = struct {
	sync.RWMutex
	m map[string][]Response
}{m: map[string][]Response{}}

const (
	mostTold    = 1 << 15
	longestTold = 400 // bytes of a key
)

// sharedAnswers gives back the copy of equal answers, or a copy of these with no more room than they need: the decoder
// doubles as it reads, and a million sign-offs are kept in memory.
func sharedAnswers(as []Response) []Response {
	var room [longestTold]byte
	key, ok := answersKey(room[:0], as)
	if !ok {
		return trimmed(as)
	}
	told.RLock()
	same, found := told.m[string(key)]
	told.RUnlock()
	if found {
		return same
	}
	as = trimmed(as)
	told.Lock()
	if len(told.m) < mostTold {
		told.m[string(key)] = as
	}
	told.Unlock()
	return as
}

func trimmed(as []Response) []Response {
	if cap(as) == len(as) {
		return as
	}
	return append(make([]Response, 0, len(as)), as...)
}

// answersKey writes what the answers say, each text with its length before it, so that two keys are equal only when the answers
// are. Free texts and photos are not told twice: ok is false for them, as for a key that would be long.
func answersKey(key []byte, as []Response) (_ []byte, ok bool) {
	for i := range as {
		a := &as[i]
		if a.Text != "" || a.Photo != "" || len(a.Ask) > 255 || len(a.Choice) > 255 || a.Value != nil && len(a.Value.Unit) > 255 {
			return nil, false
		}
		key = append(append(key, byte(len(a.Ask))), a.Ask...)
		key = append(append(key, byte(len(a.Choice))), a.Choice...)
		switch {
		case a.Yes == nil:
			key = append(key, '-')
		case *a.Yes:
			key = append(key, 'y')
		default:
			key = append(key, 'n')
		}
		if a.Value == nil {
			key = append(key, '-')
			continue
		}
		key = append(append(key, byte(len(a.Value.Unit))), a.Value.Unit...)
		key, _ = a.Value.Value.AppendText(key) // never fails
		key = append(key, ' ')
	}
	return key, len(as) > 0 && len(key) <= longestTold
}
