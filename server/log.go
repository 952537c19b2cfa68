package server

import (
	"errors"
	"regexp"
	"strings"

	"github.com/gofiber/fiber/v2"

	"grainward/records"
)

// What goes into the log is for whoever keeps the machine running, who may be nobody of the plant: no names, no codes of people, no
// secrets, no lots, no addresses of devices, nothing that was typed. A request is named by its row of the table and an id of its
// own, which the page of an error shows too. A test (log_test.go) sends marks in every place there is and looks for them.

// plain is an error without the values in it: what is quoted and what looks like an address is left out, since errors quote what
// they are about. Of what was found wrong with something that was sent, the kind alone is kept.
func plain(err error) string {
	if err == nil {
		return ""
	}
	switch kind := records.KindOf(err); kind {
	case records.Invalid, records.Conflict, records.NotFound, records.Denied:
		return codeOf[kind]
	}
	var own *records.Error
	if errors.As(err, &own) {
		text := own.What
		if own.Err != nil {
			text += ": " + own.Err.Error()
		}
		return plainText(text)
	}
	return plainText(err.Error())
}

var (
	inQuotes   = regexp.MustCompile(`"(?:[^"\\]|\\.)*"?|“[^”]*”?|'[^']*'?|` + "`[^`]*`?")
	netAddress = regexp.MustCompile(`\[?(?:[0-9a-fA-F]*:){2,}[0-9a-fA-F.]*(?:%\w+)?\]?(?::\d+)?|\b\d{1,3}(?:\.\d{1,3}){3}\b(?::\d+)?`)
)

const plainMost = 300

func plainText(text string) string {
	text = netAddress.ReplaceAllString(inQuotes.ReplaceAllString(text, "…"), "…")
	if len(text) > plainMost {
		text = text[:plainMost] + "…"
	}
	return strings.ToValidUTF8(text, "")
}

// methodOf is the method of a row. What is asked of no row may name any method, and is counted as one.
func methodOf(rt *route) string {
	if rt.Method == "" {
		return "any"
	}
	return rt.Method
}

// sentBytes is how long an answer is; -1 when it is written as it comes.
func sentBytes(c *fiber.Ctx) int {
	if c.Response().IsBodyStream() {
		return c.Response().Header.ContentLength()
	}
	return len(c.Response().Body())
}
