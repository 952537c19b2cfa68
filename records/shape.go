package records

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/go-playground/validator/v10"
)

// shape checks the tags of the facts. Whether the things named exist in a plan is checked in records/book, which
// knows the plan; whether the news is good, in audit.
var shape = newShape()

func newShape() *validator.Validate {
	v := validator.New(validator.WithRequiredStructEnabled())
	v.RegisterTagNameFunc(memberName)
	rule := func(tag string, check func(string) error) {
		if err := v.RegisterValidation(tag, func(fl validator.FieldLevel) bool { return check(fl.Field().String()) == nil }); err != nil {
			panic(err) // a mistake in this file, found by any test
		}
	}
	rule("code", CheckCode)
	rule("lot", CheckLot)
	rule("sha256hex", checkSHA256)
	v.RegisterStructValidation(func(sl validator.StructLevel) {
		switch r := sl.Current().Interface().(Response); r.given() {
		case 0:
			sl.ReportError(nil, "", "", "unanswered", string(r.Ask))
		case 1:
		default:
			sl.ReportError(nil, "", "", "answered-twice", string(r.Ask))
		}
	}, Response{})
	v.RegisterStructValidation(massShape, Mass{})
	v.RegisterStructValidation(weightShape, Weight{})
	return v
}

func checkSHA256(text string) error {
	if len(text) != 64 || strings.Trim(text, "0123456789abcdef") != "" {
		return fmt.Errorf("%q is not a SHA-256 in 64 lower-case hex digits", clip(text))
	}
	return nil
}

// CheckShape says whether an entry is well formed; every value at fault is listed. The error is an *Error of kind
// Invalid. An entry that passes can be written by Format and is read again by Parse.
func CheckShape(e Entry) error {
	_, err := Written(e)
	return err
}

// Written is CheckShape, and the row that Format makes of an entry that passes.
func Written(e Entry) (Row, error) {
	sound := plainlySound(&e)
	if !sound {
		if err := checkFields(e); err != nil {
			return Row{}, err
		}
	}
	row, err := Format(e)
	if err != nil {
		return Row{}, &Error{Kind: Invalid, What: "the " + e.Kind.noun() + " can not be written down", Err: err}
	}
	if err := checkSize(e.Kind, len(row.Bytes)); err != nil {
		return Row{}, err
	}
	if sound {
		return row, nil
	}
	// A value that can be held but not read again (the year 12000, an id of another version) would poison the journal.
	_, err = ParseTrusted(row.Bytes)
	return row, err
}

func checkFields(e Entry) error {
	var faults []FieldError
	add := func(field, value, want string) {
		faults = append(faults, FieldError{Field: field, Value: value, Want: want})
	}
	row, known := RowOf(e.Kind)
	switch {
	case !known:
		return unknownKind(e.Kind)
	case isNil(e.Fact) || e.Fact.Kind() != e.Kind:
		return &Error{Kind: Invalid, What: "the fact is not of the entry's kind", Fields: []FieldError{{Field: "fact", Want: "a fact of kind " + string(e.Kind)}}}
	}
	if e.ID.IsZero() {
		add("id", "", "a version 7 UUID made on the device")
	}
	if e.Happened == 0 {
		add("happened", "", "when the work was done, like 2026-03-08T07:30:00Z")
	}
	if e.By == "" {
		add("by", "", "the code of the person signing")
	} else if fault := codeFault(string(e.By)); fault != "" {
		add("by", string(e.By), "it "+fault)
	}
	if fault := codeFault(string(e.Device)); fault != "" {
		add("device", string(e.Device), "it "+fault)
	}
	if e.Paper != nil {
		if fault := codeFault(string(e.Paper.Whose)); e.Paper.Whose == "" || fault != "" {
			add("paper.whose", string(e.Paper.Whose), "the code of the person who signed the sheet")
		}
		if e.Paper.Sheet != "" && checkSHA256(e.Paper.Sheet) != nil {
			add("paper.sheet", e.Paper.Sheet, "the SHA-256 of a photo of the sheet, 64 hex digits")
		}
	}
	if !row.Allows(e.Meaning) {
		add("meaning", string(e.Meaning), oneOf(row.Meanings))
	}
	faults = append(faults, factFaults("fact", e.Fact)...)
	if len(faults) > 0 {
		return &Error{Kind: Invalid, What: "the " + e.Kind.noun() + " is not well formed", Fields: faults}
	}
	return nil
}

func checkSize(k Kind, size int) error {
	if row, _ := RowOf(k); size > row.MaxBytes {
		return &Error{Kind: Invalid, What: fmt.Sprintf("the %s takes %d bytes; %d is the most", k.noun(), size, row.MaxBytes),
			Do: "Shorten its texts, or put the long part on file as a document."}
	}
	return nil
}

// isNil also knows the nil pointer that hides in an interface.
func isNil(f Fact) bool {
	if f == nil {
		return true
	}
	v := reflect.ValueOf(f)
	return v.Kind() == reflect.Pointer && v.IsNil()
}

func factFaults(under string, f Fact) (faults []FieldError) {
	if err := shape.Struct(f); err != nil {
		var list validator.ValidationErrors
		if !errors.As(err, &list) {
			return []FieldError{{Field: under, Want: err.Error()}}
		}
		for _, fe := range list {
			_, path, _ := strings.Cut(fe.Namespace(), ".")
			faults = append(faults, FieldError{Field: joined(under, strings.TrimSuffix(path, ".")), Value: shownValue(fe), Want: want(fe)})
		}
	}
	for _, bad := range badText(reflect.ValueOf(f)) {
		bad.Field = joined(under, bad.Field)
		faults = append(faults, bad)
	}
	switch f := f.(type) {
	case *Adoption:
		if sum := fmt.Sprintf("%x", sha256.Sum256([]byte(f.Text))); f.SHA256 != sum && checkSHA256(f.SHA256) == nil {
			faults = append(faults, FieldError{Field: under + ".sha256", Value: f.SHA256, Want: "the text's own SHA-256, " + sum})
		}
	case *Answer:
		switch {
		case f.Finding == "" && f.Deviation.IsZero():
			faults = append(faults, FieldError{Field: under + ".finding", Want: "name the finding or the deviation it answers"})
		case f.Finding != "" && !f.Deviation.IsZero():
			faults = append(faults, FieldError{Field: under + ".finding", Value: f.Finding, Want: "name either a finding or a deviation, not both; answer each by itself"})
		}
	case *Correct:
		faults = append(faults, correctFaults(under, f)...)
	default:
		faults = append(faults, goodsFaults(under, f)...)
	}
	return faults
}

func correctFaults(under string, f *Correct) []FieldError {
	with := under + ".with"
	switch {
	case f.Withdraw && f.With != nil:
		return []FieldError{{Field: with, Want: "an entry that is withdrawn is not replaced too; leave out one of withdraw and with"}}
	case f.Withdraw:
		return nil
	case f.With == nil:
		return []FieldError{{Field: with, Want: "say what counts instead, or write withdraw: true to take the entry back"}}
	case f.With.Kind == KindCorrect:
		return []FieldError{{Field: with + ".kind", Value: string(KindCorrect), Want: "the kind of the entry first written"}}
	}
	if _, known := RowOf(f.With.Kind); !known {
		faults := unknownKind(f.With.Kind).Fields
		faults[0].Field = with + ".kind"
		return faults
	}
	if isNil(f.With.Fact) || f.With.Fact.Kind() != f.With.Kind {
		return []FieldError{{Field: with + ".fact", Want: "a fact of kind " + string(f.With.Kind)}}
	}
	return factFaults(with+".fact", f.With.Fact)
}

// badText finds texts that are not UTF-8 in a fact built in memory; the decoder refuses them in JSON. A replacement's
// fact is left to correctFaults. Paths are only put together on the way back from a fault: nearly always there is none.
func badText(v reflect.Value) (faults []FieldError) {
	under := func(name string, found []FieldError) {
		for _, f := range found {
			f.Field = joined(name, f.Field)
			faults = append(faults, f)
		}
	}
	switch v.Kind() {
	case reflect.String:
		if !utf8.ValidString(v.String()) {
			return []FieldError{{Value: strings.ToValidUTF8(v.String(), "�"), Want: "it has bytes that are not text (UTF-8)"}}
		}
	case reflect.Pointer:
		if !v.IsNil() {
			return badText(v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if !v.Type().Field(i).IsExported() {
				continue
			}
			if found := badText(v.Field(i)); found != nil {
				under(memberName(v.Type().Field(i)), found)
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			if found := badText(v.Index(i)); found != nil {
				under(fmt.Sprintf("[%d]", i), found)
			}
		}
	}
	return faults
}

func memberName(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	return name
}

func shownValue(fe validator.FieldError) string {
	if v, ok := fe.Value().(fmt.Stringer); ok && (fe.Tag() == "mass" || fe.Tag() == "moisture") {
		return v.String()
	}
	switch v := reflect.ValueOf(fe.Value()); v.Kind() {
	case reflect.String:
		return v.String()
	case reflect.Int, reflect.Int64:
		if at, ok := fe.Value().(Instant); ok {
			if at == 0 {
				return ""
			}
			return at.String()
		}
		return strconv.FormatInt(v.Int(), 10)
	}
	return ""
}

// want says in words what a tag asks for.
func want(fe validator.FieldError) string {
	text := shownValue(fe)
	switch fe.Tag() {
	case "code":
		return faultWant(text, codeFault(text))
	case "lot":
		return faultWant(text, lotFault(text))
	case "sha256hex":
		if text == "" {
			return wantGiven
		}
		return "it must be a SHA-256: 64 lower-case hex digits"
	case "required":
		return wantGiven
	case "required_unless":
		return "it must be given, unless the document is about the plant itself"
	case "oneof":
		return oneOf(strings.Fields(fe.Param()))
	case "gtefield":
		return "it must not be before `" + strings.ToLower(fe.Param()) + "`"
	case "unanswered":
		return fmt.Sprintf("the question %q has no answer: give one of value, yes, choice, text and photo", clip(fe.Param()))
	case "answered-twice":
		return fmt.Sprintf("the question %q has more than one answer: keep one of value, yes, choice, text and photo", clip(fe.Param()))
	case "nefield":
		return "it must not be the same as `" + strings.ToLower(fe.Param()) + "`"
	case "mass", "moisture":
		return fe.Param()
	case "min":
		if fe.Kind() == reflect.Slice {
			return "there must be at least " + fe.Param()
		}
		return "it must be at least " + fe.Param()
	case "max":
		switch fe.Kind() {
		case reflect.String:
			return fmt.Sprintf("it has %d characters; %s is the most", utf8.RuneCountInString(text), fe.Param())
		case reflect.Slice:
			return fmt.Sprintf("there are %d of them; %s is the most", reflect.ValueOf(fe.Value()).Len(), fe.Param())
		}
		return "it must be at most " + fe.Param()
	}
	return "not as it should be (" + fe.Tag() + ")"
}

func faultWant(text, fault string) string {
	if text == "" {
		return wantGiven
	}
	return "it " + fault
}

func oneOf[T ~string](allowed []T) string {
	if len(allowed) == 1 {
		return "it must be " + string(allowed[0])
	}
	words := make([]string, len(allowed))
	for i, w := range allowed {
		words[i] = string(w)
	}
	return "it must be one of " + strings.Join(words, ", ")
}
