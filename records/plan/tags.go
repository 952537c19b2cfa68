package plan

import (
	"fmt"
	"reflect"
	"strings"

	"github.com/go-playground/validator/v10"

	"grainward/records"
	"grainward/records/placed"
)

// shape checks the validate tags of a plan's types. "given" is ours: the key must stand in the file even when its
// value may be zero (a shift may start at 00:00), which only the reader can tell.
var shape = func() *validator.Validate {
	v := validator.New(validator.WithRequiredStructEnabled())
	v.RegisterTagNameFunc(func(f reflect.StructField) string {
		name, _, _ := strings.Cut(f.Tag.Get("yaml"), ",")
		return name
	})
	rule := func(tag string, check func(validator.FieldLevel) bool) {
		if err := v.RegisterValidation(tag, check, true); err != nil {
			panic(err) // a mistake in this file, found by any test
		}
	}
	rule("code", func(fl validator.FieldLevel) bool { return records.CheckCode(fl.Field().String()) == nil })
	rule("given", func(validator.FieldLevel) bool { return true })
	return v
}()

// checkTags notes every value the tags refuse.
func (r *reader) checkTags(p *Plan) {
	r.checkGiven(reflect.ValueOf(p).Elem(), "")
	err := shape.Struct(p)
	if err == nil {
		return
	}
	faults, ok := err.(validator.ValidationErrors)
	if !ok {
		panic(err) // a mistake in a tag, found by any test
	}
	for _, fe := range faults {
		_, path, _ := strings.Cut(fe.Namespace(), ".")
		value, want := plainTag(fe)
		r.fault(path, value, want)
	}
}

// checkGiven looks for keys that must stand in the file.
func (r *reader) checkGiven(v reflect.Value, path string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			r.checkGiven(v.Elem(), path)
		}
	case reflect.Slice:
		for i := range v.Len() {
			r.checkGiven(v.Index(i), fmt.Sprintf("%s[%d]", path, i))
		}
	case reflect.Struct:
		for _, f := range fieldsOf(v.Type()) {
			under := placed.Join(path, f.key)
			if _, there := r.spots[under]; !there && contains(f.rules, "given") {
				r.fault(under, "", "it must be given")
			}
			r.checkGiven(v.Field(f.index), under)
		}
	}
}

// plainTag says in words what a tag found and what it asks for.
func plainTag(fe validator.FieldError) (value, want string) {
	v := reflect.ValueOf(fe.Value())
	switch {
	case !v.IsValid():
	case v.Kind() == reflect.String:
		value = v.String()
	case v.CanInterface():
		if s, ok := v.Interface().(fmt.Stringer); ok && !v.IsZero() {
			value = s.String()
		} else if v.Kind() == reflect.Int {
			value = fmt.Sprint(v.Int())
		}
	}
	switch tag := fe.Tag(); {
	case tag == "required", value == "" && (tag == "code" || tag == "oneof" || tag == "min"):
		want = "it must be given"
		if fe.Tag() == "oneof" {
			want += ": " + strings.ReplaceAll(fe.Param(), " ", ", ")
		}
	case tag == "code":
		want = records.CheckCode(value).Error()
	case tag == "oneof":
		all := strings.Fields(fe.Param())
		want = "one of " + strings.Join(all, ", ")
		if near := nearest(value, all); near != "" {
			want += "; did you mean " + near + "?"
		}
	case tag == "eq":
		want = "it must be " + fe.Param()
	case tag == "min" && fe.Type() == reflect.TypeFor[Span]():
		want = "at least 1m"
	case tag == "min":
		want = "at least " + fe.Param()
	case tag == "max" && v.Kind() == reflect.String:
		want = "at most " + fe.Param() + " characters"
	case tag == "max":
		want = "at most " + fe.Param()
	default:
		want = "not as it should be (" + tag + ")"
	}
	return value, want
}
