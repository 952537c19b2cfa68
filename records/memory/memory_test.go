package memory

import (
	"testing"

	"grainward/records/backendtest"
)

func TestBackend(t *testing.T) {
	backendtest.Run(t, func(t *testing.T) backendtest.Opened {
		s := New()
		return backendtest.Opened{Name: "memory", Store: s, Damage: func(t *testing.T, key string) {
			s.mu.Lock()
			defer s.mu.Unlock()
			if len(s.blobs[key]) == 0 {
				t.Fatalf("nothing kept under %s to damage", key)
			}
			s.blobs[key][0] ^= 1
		}}
	})
}
