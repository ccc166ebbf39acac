package stash

import (
	"context"
	"database/sql"
	"strconv"

	"greige/analyze/cloth"
	"greige/analyze/piles"
)

// Candidates are all cloths of the stash in the order of their numbers, each with
// what a choice goes by and no more: number, photo, footing, lightness with its
// uncertainty, colour, spread, name, character, and the inks with their shares. In
// a large stash they are read many times faster than Cloths; Fill gives those that
// were chosen the rest.
func (s *Stash) Candidates(ctx context.Context) ([]piles.Fabric, error) {
	if s.empty {
		return nil, nil
	}
	names, err := s.photoNames(ctx)
	if err != nil {
		return nil, err
	}
	n, _, err := s.Count(ctx)
	if err != nil {
		return nil, err
	}
	out := make([]piles.Fabric, 0, n)
	var spread float64
	err = s.eachKey(ctx, "SELECT cloth, key, spread FROM keys ORDER BY cloth", func(k *key) {
		f := piles.Fabric{ID: strconv.FormatInt(k.id, 10), Photo: names[k.photo], Group: int(k.group), Cloth: cloth.Cloth{
			Lab: k.lab, Lightness: k.lab.L, Uncertainty: k.unsure, Apart: k.within, Spread: spread,
			Name: k.name, Character: cloth.Character(k.character), Colours: make([]cloth.Colour, len(k.inks))}}
		for j, c := range k.inks {
			f.Colours[j] = cloth.Colour{Lab: c.lab, Share: c.share}
		}
		out = append(out, f)
	}, &spread)
	return out, err
}

func (s *Stash) photoNames(ctx context.Context) (map[int64]string, error) {
	names := map[int64]string{}
	err := each(ctx, s.db, func(rows *sql.Rows) error {
		var id int64
		var name string
		err := rows.Scan(&id, &name)
		names[id] = name
		return err
	}, "SELECT id, name FROM photos")
	return names, told(s.path, err)
}

// Fill gives those of the cloths that bare names, which came from Candidates, all
// their figures, as Cloths does. Swatches that they have stay.
func (s *Stash) Fill(ctx context.Context, cloths []piles.Fabric, bare map[string]bool) error {
	var ids []string
	var at []int
	for i := range cloths {
		if bare[cloths[i].ID] {
			ids, at = append(ids, cloths[i].ID), append(at, i)
		}
	}
	full, err := s.Get(ctx, ids)
	if err != nil {
		return err
	}
	for n, i := range at {
		f := full[n].Fabric
		f.Outline, f.Swatch, f.Group = nil, cloths[i].Swatch, cloths[i].Group
		cloths[i] = f
	}
	return nil
}
