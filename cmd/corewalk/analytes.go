package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"corewalk/sampling"
)

// chooseAnalytes finds the analytes asked for, whatever the letter case, or all
// of them.
func chooseAnalytes(all []sampling.Analyte, want []string) ([]sampling.Analyte, error) {
	if len(want) == 0 {
		return all, nil
	}
	var out []sampling.Analyte
	for _, w := range want {
		found, err := findAnalytes(all, w)
		if err != nil {
			return nil, err
		}
		out = append(out, found...)
	}
	return out, nil
}

// findAnalytes is findAnalyte for one that may stand for several depth layers:
// pH for "pH 0-2in" and "pH 2-8in".
func findAnalytes(all []sampling.Analyte, name string) ([]sampling.Analyte, error) {
	a, err := findAnalyte(all, name)
	if err == nil {
		return []sampling.Analyte{a}, nil
	}
	var out []sampling.Analyte
	for _, a := range all {
		base, depth, ok := cutLast(a.Name, " ")
		if _, bad := sampling.ParseDepth(depth); ok && bad == nil && strings.EqualFold(base, strings.TrimSpace(name)) {
			out = append(out, a)
		}
	}
	if len(out) == 0 {
		return nil, err
	}
	return out, nil
}

func cutLast(s, sep string) (before, after string, found bool) {
	if i := strings.LastIndex(s, sep); i >= 0 {
		return s[:i], s[i+len(sep):], true
	}
	return s, "", false
}

// findAnalyte finds an analyte by its name, else by the lab's header, else by
// either in another letter case.
func findAnalyte(all []sampling.Analyte, name string) (sampling.Analyte, error) {
	name = strings.TrimSpace(name)
	for _, fits := range []func(sampling.Analyte) bool{
		func(a sampling.Analyte) bool { return a.Name == name },
		func(a sampling.Analyte) bool { return a.Column == name },
		func(a sampling.Analyte) bool {
			return strings.EqualFold(a.Name, name) || strings.EqualFold(a.Column, name)
		},
	} {
		if i := slices.IndexFunc(all, fits); i >= 0 && name != "" {
			return all[i], nil
		}
	}
	var names, methods []string
	for _, a := range all {
		names = append(names, a.Name)
		if strings.EqualFold(a.Of, name) && name != "" {
			methods = append(methods, fmt.Sprintf("%q (%s)", a.Name, cmp.Or(a.Method, "method not given")))
		}
	}
	if len(methods) > 1 {
		return sampling.Analyte{}, fmt.Errorf("%s stands in %d columns, %s: figures by different methods are not mixed; name one of them, or give a relation with the results", name, len(methods), strings.Join(methods, " and "))
	}
	return sampling.Analyte{}, fmt.Errorf("the results have no analyte %q; they have: %s", name, strings.Join(names, ", "))
}
