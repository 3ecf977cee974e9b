package main

import (
	"flag"
	"fmt"
	"io"
	"os"
	"slices"

	"github.com/google/uuid"

	"meniscus/internal/exchange"
	"meniscus/internal/ledger"
)

// logFlags say what entries are compared with.
type logFlags struct {
	files, keys         []string
	export, institution string
	checkpoints         []ledger.Checkpoint
}

func againstLog(flags *flag.FlagSet) *logFlags {
	f := &logFlags{}
	several := func(into *[]string) func(string) error {
		return func(text string) error { *into = append(*into, text); return nil }
	}
	flags.Func("checkpoint", "a file with a checkpoint that you kept; several narrow down what was altered",
		several(&f.files))
	flags.Func("key", "a public key that has to have signed them: the log's, or a witness's; may be repeated",
		several(&f.keys))
	flags.StringVar(&f.export, "export", "", "compare this export, and no database")
	flags.StringVar(&f.institution, "institution", "", "the institution, where it was restored from the log's own")
	return f
}

// read reads the checkpoints and checks their signatures.
func (f *logFlags) read(out io.Writer) error {
	for _, file := range f.files {
		signed, err := os.ReadFile(file)
		if err != nil {
			return fmt.Errorf("opening the checkpoint: %w", err)
		}
		point, err := ledger.ReadCheckpoint(signed, f.keys)
		if err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		f.checkpoints = append(f.checkpoints, point)
	}
	if len(f.files) > 0 && len(f.keys) == 0 {
		fmt.Fprintln(out, "No signature was checked: name the log's public key with -key.")
	}
	return nil
}

// byInstitution are the checkpoints by the institution whose log they are of.
func (f *logFlags) byInstitution(known []uuid.UUID) (map[uuid.UUID][]ledger.Checkpoint, error) {
	of := map[uuid.UUID][]ledger.Checkpoint{}
	for _, point := range f.checkpoints {
		id, err := point.Institution()
		if f.institution != "" {
			id, err = uuid.Parse(f.institution)
		}
		if err != nil {
			return nil, fmt.Errorf("%w: %w", errUsage, err)
		}
		if !slices.Contains(known, id) {
			return nil, fmt.Errorf("%w: the institution %s is not in this database; name the one that was restored from it "+
				"with -institution", errUsage, id)
		}
		of[id] = append(of[id], point)
	}
	return of, nil
}

// proveExport compares an export with the checkpoints.
func (f *logFlags) proveExport(out io.Writer) error {
	file, err := os.Open(f.export)
	if err != nil {
		return fmt.Errorf("opening the export: %w", err)
	}
	defer file.Close()
	check := ledger.NewCheck(func(sentence string) { fmt.Fprintln(out, sentence) }, f.checkpoints...)
	entries, err := exchange.Prove(file, check)
	if err != nil {
		fmt.Fprintln(out, err)
	}
	fmt.Fprintf(out, "%d entries: %d wrong; the first %d are those of a checkpoint.\n",
		entries, check.Wrong, check.Proven())
	if err != nil || check.Wrong > 0 {
		return errNotAsRecorded
	}
	return nil
}
