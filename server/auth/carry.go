package auth

import (
	"bytes"
	"context"
	"fmt"
	"strings"

	"grainward/records"
)

// Carried is what Carry found.
type Carried struct {
	People, Devices, Links int // with a PIN or password; ever enrolled; ever given
	New                    int // values that were written; the others were there already
}

// carried are the drawers that go along. Sign-ins and codes for enrolling do not: they last hours, and signing in again is
// what shows that the move worked.
var carried = []string{inPeople, inTries, inDevices, inLinks, inAccesses}

// Carry copies who may sign in, and from where, from one cabinet to another: PINs and passwords, the count of wrong tries, enrolled
// devices, auditors' links and who read with them. What is there already and the same is left alone, so that a Carry that was
// broken off goes on when it is called again; when something else is there, it is a Conflict and nothing is written.
func Carry(ctx context.Context, to, from Cabinet) (c Carried, err error) {
	type value struct {
		drawer, key string
		bytes       []byte
	}
	var missing []value
	var other []string
	for _, drawer := range carried {
		err := from.Each(ctx, drawer, func(key string, b []byte) error {
			c.count(drawer)
			have, rev, err := to.Get(ctx, drawer, key)
			switch {
			case err != nil:
				return err
			case rev == 0:
				missing = append(missing, value{drawer, key, bytes.Clone(b)})
			case !bytes.Equal(have, b) && drawer != inTries: // a count that went on there is the newer one
				other = append(other, drawer)
			}
			return nil
		})
		if err != nil {
			return c, err
		}
	}
	if len(other) > 0 {
		return c, &records.Error{Kind: records.Conflict, What: fmt.Sprintf("%d of the people, devices and links are there already and are not the same (%s)", len(other), strings.Join(other[:min(len(other), 5)], ", ")),
			Do: "Nothing was written. If the plant is at work in the new place, its people and devices are right there and need not be copied."}
	}
	for _, v := range missing {
		ok, err := to.Put(ctx, v.drawer, v.key, v.bytes, 0)
		if err != nil {
			return c, err
		}
		if !ok {
			return c, &records.Error{Kind: records.Conflict, What: "somebody else writes to the people and devices of the new place", Do: "Stop the servers of both places and copy again."}
		}
		c.New++
	}
	return c, nil
}

func (c *Carried) count(drawer string) {
	switch drawer {
	case inPeople:
		c.People++
	case inDevices:
		c.Devices++
	case inLinks:
		c.Links++
	}
}
