package yardstick

import (
	"bufio"
	"fmt"
	"os"
	"runtime"
	"strconv"
	"strings"
)

// Machine is what was measured on.
type Machine struct {
	CPU      string  `json:"cpu"`
	Cores    int     `json:"cores"`
	MemoryGB float64 `json:"memoryGB,omitzero"`
	System   string  `json:"system"`
	Go       string  `json:"go"`
	SyncRate float64 `json:"syncRate"` // records a second, one fsync each
}

// thisMachine asks Linux; elsewhere what only Linux tells is left out.
func thisMachine(disk float64) Machine {
	m := Machine{CPU: runtime.GOARCH, Cores: runtime.GOMAXPROCS(0), System: runtime.GOOS + "/" + runtime.GOARCH, Go: runtime.Version(), SyncRate: disk}
	if name := line("/proc/cpuinfo", "model name"); name != "" {
		m.CPU = name
	}
	if kB, err := strconv.ParseFloat(strings.TrimSuffix(line("/proc/meminfo", "MemTotal"), " kB"), 64); err == nil {
		m.MemoryGB = kB * 1024 / 1e9
	}
	if v, err := os.ReadFile("/proc/sys/kernel/osrelease"); err == nil {
		m.System += ", Linux " + strings.TrimSpace(string(v))
	}
	return m
}

// line is the value of a line "name : value" of a file of the system's; empty when there is none.
func line(path, name string) string {
	f, err := os.Open(path)
	if err != nil {
		return ""
	}
	defer f.Close()
	for sc := bufio.NewScanner(f); sc.Scan(); {
		if k, v, ok := strings.Cut(sc.Text(), ":"); ok && strings.TrimSpace(k) == name {
			return strings.TrimSpace(v)
		}
	}
	return ""
}

// String is the machine in a sentence.
func (m Machine) String() string {
	memory := ""
	if m.MemoryGB > 0 {
		memory = fmt.Sprintf(", %.0f GB of memory", m.MemoryGB)
	}
	return fmt.Sprintf("Machine: %s, %d cores%s, %s, %s; its disk takes %s records a second with one fsync each.", m.CPU, m.Cores, memory, m.System, m.Go, whole(m.SyncRate))
}
