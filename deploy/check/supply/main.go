// Command supply writes the licences of what the program is made of: of each module that is
// linked into it, of Go's standard library, and of the open data that values were read from.
// The same text of several modules stands once.
//
//	go run ./deploy/check/supply > deploy/licences/third-party.txt
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

type module struct {
	Path, Version, Dir string
	Main               bool
}

// linked are the modules of the program as its image has it, by path.
func linked() ([]module, error) {
	list := exec.Command("go", "list", "-deps", "-tags", "timetzdata", "-json=Module", "./cmd/meniscus")
	list.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux", "GOARCH=amd64")
	list.Stderr = os.Stderr
	said, err := list.Output()
	if err != nil {
		return nil, fmt.Errorf("listing the modules: %w", err)
	}
	seen := map[string]module{}
	for lines := json.NewDecoder(strings.NewReader(string(said))); ; {
		var p struct{ Module *module }
		if err := lines.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, fmt.Errorf("reading the list of modules: %w", err)
		}
		if p.Module != nil && !p.Module.Main {
			seen[p.Module.Path] = *p.Module
		}
	}
	out := make([]module, 0, len(seen))
	for _, m := range seen {
		out = append(out, m)
	}
	slices.SortFunc(out, func(a, b module) int { return strings.Compare(a.Path, b.Path) })
	return out, nil
}

// papers are the names of a licence, of notices and of grants of patents.
var papers = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|patents)(\.(txt|md))?$`)

// texts are a module's papers, the licence among them.
func texts(m module) (out []string, err error) {
	entries, err := os.ReadDir(m.Dir)
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", m.Path, err)
	}
	licensed := false
	for _, e := range entries {
		if !papers.MatchString(e.Name()) {
			continue
		}
		said, err := os.ReadFile(filepath.Join(m.Dir, e.Name()))
		if err != nil {
			return nil, fmt.Errorf("reading %s of %s: %w", e.Name(), m.Path, err)
		}
		licensed = licensed || !strings.HasPrefix(strings.ToLower(e.Name()), "notice")
		out = append(out, strings.TrimSpace(strings.ReplaceAll(string(said), "\r\n", "\n")))
	}
	if !licensed {
		return nil, fmt.Errorf("%s %s has no licence", m.Path, m.Version)
	}
	return out, nil
}

func run(out io.Writer) error {
	modules, err := linked()
	if err != nil {
		return err
	}
	var order []string
	of := map[string][]string{}
	for _, m := range modules {
		all, err := texts(m)
		if err != nil {
			return err
		}
		for _, text := range all {
			if of[text] == nil {
				order = append(order, text)
			}
			of[text] = append(of[text], m.Path+" "+m.Version)
			if m.Path == "golang.org/x/text" { // the Go project has one text for all of its parts
				of[text] = append(of[text], "the standard library of Go")
			}
		}
	}
	data, err := os.ReadFile("deploy/licences/data.txt")
	if err != nil {
		return fmt.Errorf("reading the licences of data: %w", err)
	}
	fmt.Fprintf(out, "The program is made of these parts too; each text stands once, after the parts that it is of.\n\n%s",
		data)
	for _, text := range order {
		fmt.Fprintf(out, "\n%s\n%s\n\n%s\n", strings.Repeat("=", 80), strings.Join(of[text], "\n"), text)
	}
	return nil
}

func main() {
	log.SetFlags(0)
	if err := run(os.Stdout); err != nil {
		log.Fatal("supply: ", err)
	}
}
