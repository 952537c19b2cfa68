package pages

// peopleCanned are the pages of people.go, each with something in every part of it.
func peopleCanned(f Frame, text string) (all []Page) {
	add := func(p Page) { all = append(all, p) }
	out := f
	out.Person, out.Other, out.Nav, out.Ways, out.Secret = "", "/?lang=es", nil, nil, ""
	msgs := []Message{{"a-x", text}, {"", text}}
	add(&People{Frame: out, NoPINs: true, FirstPIN: text, People: []Somebody{{"/sign-in/a", text, "AB", "crew", true}, {"/sign-in/b", text, "CD", "lead", false}, {"/sign-in/c", text, "EF", "visitor", true}}})
	add(&People{Frame: out, NoPlan: true, Install: "/install"})
	held := []Field{{text, text}}
	add(&Secret{Frame: out, Code: "a", Who: text, Kind: "pin", Next: "/today", Enrolled: true, Has: true, Ended: true, Message: text, HeldPath: "/sign/x/y", Held: held})
	add(&Secret{Frame: out, Code: "a", Who: text, Kind: "either", Enrolled: true, Has: true, Ended: true})
	add(&Secret{Frame: f, Code: "a", Who: text, Kind: "password", StepUp: true, Has: true})
	add(&Secret{Frame: out, Kind: "password", Has: true, Typed: text, Message: text, Held: held, HeldPath: "/sign/x/y", Ended: true})
	add(&Secret{Frame: out, Code: "a", Who: text, Kind: "pin"})
	add(&Secret{Frame: out, Code: "a", Who: text, Kind: "password"})
	add(&Enrol{Frame: out, Already: text, Code: text, Message: text})
	rows := []DeviceRow{{"/devices/a", text, text, text, text, "", true}, {"/devices/b", text, text, text, text, "", false}}
	add(&Devices{Frame: f, Messages: msgs, Notice: text, Typed: text, Made: &MadeCode{text, text, "/enrol?code=x", text}, Rows: rows, Withdrawn: []DeviceRow{{"", text, text, text, text, text, false}}})
	add(&Devices{Frame: f})
	add(&Device{Frame: f, To: "/devices/a", Messages: msgs, Row: rows[0], Typed: text})
	staff := []StaffRow{{"/people/a", text, text, "crew", text, text, true, false, text, text, false}, {"/people/b", text, text, "lead", text, "", true, true, "", "", false}, {"/people/c", text, text, "visitor", text, "", false, false, "", text, true}}
	add(&Staff{Frame: f, Notice: text, Add: "/new-person", Rows: staff, Gone: staff[2:]})
	add(&Member{Frame: f, Row: staff[0], Messages: msgs, Notice: text, NewPIN: text, Own: true, IsLead: true, Signable: true, Training: []Row{{Name: text, Value: text}}, Retire: "/people/a/leave"})
	add(&Member{Frame: f, Row: staff[2]})
	return all
}
