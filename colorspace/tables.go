package colorspace

import (
	"embed"
	"encoding/csv"
	"strconv"
)

// The published tables as files, each with a head that names its columns.
//
//go:embed tables/*.csv
var tables embed.FS

// readTable gives the lines of a table behind its head. A table is part of the
// program: one that cannot be read is a fault of it.
func readTable(name string) [][]string {
	f, err := tables.Open("tables/" + name)
	if err != nil {
		panic(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1 // the renotation goes to stronger colours in some hues
	lines, err := r.ReadAll()
	if err != nil {
		panic(err)
	}
	return lines[1:]
}

// figures are the numbers in some fields of a table.
func figures(fields []string) []float64 {
	out := make([]float64, len(fields))
	for i, text := range fields {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			panic(err)
		}
		out[i] = v
	}
	return out
}
