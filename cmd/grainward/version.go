package main

import "runtime/debug"

// version is the program's own; the build adds the commit it was made from.
const version = "0.1.0"

type versionCommand struct{}

func (*versionCommand) Run(w *world) error {
	w.say("%s", programName())
	return nil
}

// programName is the name and version that exports carry.
func programName() string { return "grainward " + programVersion() }

// programVersion is the version, with the commit where it is known.
func programVersion() string {
	name := version
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" && len(s.Value) >= 12 {
				name += " (" + s.Value[:12] + ")"
			}
		}
	}
	return name
}
