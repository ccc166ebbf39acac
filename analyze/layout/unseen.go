package layout

// fewMeet is over how many seams at least a line between two rows or columns is
// judged: over fewer, patches of one cloth may meet by chance.
const fewMeet = 3

// oddMeet is the share of a line's seams at which patches may be taken for two
// cloths though they are one: 1 of 200 is, see sameLimit, and a large-scale print
// cut small more often.
const oddMeet = .1

// Unseen tells of each line between two rows, and of each between two columns, of
// a straight set whether no cloth shows it: all along it, both its sides are the
// same cloth. Such a line is a seam between patches of one cloth, or none at all:
// one piece, a bar, lies over it. below[0] is the line between rows 1 and 2. Where
// all lines one way are unseen, none of them is: then the cloths run that way in
// strips, and tell nothing of where those are cut. The errors are Judge's.
func Unseen(in Input) (below, right []bool, err error) {
	t, err := newTop(in)
	if err != nil || in.Setting == OnPoint {
		return nil, nil, err
	}
	cloths := t.sameCloths()
	lines := [2][]bool{make([]bool, in.Rows-1), make([]bool, in.Cols-1)}
	for k := range lines {
		meet, odd := make([]int, len(lines[k])), make([]int, len(lines[k]))
		for _, e := range t.edges {
			a, b := t.patches[e.a].cell(), t.patches[e.b].cell()
			if a[k] == b[k] {
				continue
			}
			at := min(a[k], b[k]) - 1
			meet[at]++
			if cloths[e.a] != cloths[e.b] {
				odd[at]++
			}
		}
		all := true
		for i := range lines[k] {
			lines[k][i] = meet[i] >= fewMeet && float64(odd[i]) <= oddMeet*float64(meet[i])
			all = all && lines[k][i]
		}
		if all {
			clear(lines[k])
		}
	}
	return lines[0], lines[1], nil
}
