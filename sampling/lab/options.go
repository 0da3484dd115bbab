package lab

import "strings"

// JoinOptions say how rows that are in doubt are taken. The zero value is what
// Join does.
type JoinOptions struct {
	// Valid tells whether an id ends in the right check character. With it, an id
	// that is in no plan is called mistyped, or of another plan. It is not used
	// where fewer than half of the plan's own ids pass it.
	Valid func(id string) bool
	// Checks are patterns of ids that are set aside as check samples of the lab,
	// in addition to BLANK, STD 2 and the like: * is any run of characters, ? is
	// one; spaces and hyphens at the ends and the case of letters don't count. An
	// id of the plan is never set aside.
	Checks []string
	// AverageConflicts: the rows of one sample are averaged even where they are
	// in conflict (see Conflict), which is noted.
	AverageConflicts bool
}

// checked returns Valid, or nil where it does not suit the ids of the plan.
func (o JoinOptions) checked(samples []SampleRef) func(string) bool {
	if o.Valid == nil {
		return nil
	}
	right := 0
	for _, s := range samples {
		if o.valid(tidy(s.ID)) {
			right++
		}
	}
	if 2*right < len(samples) || right == 0 {
		return nil
	}
	return o.valid
}

// valid tries an id as it stands, then its key.
func (o JoinOptions) valid(id string) bool {
	return id != "" && (o.Valid(id) || o.Valid(idKey(id)))
}

// isCheck tells whether a tidied id is one of a check sample.
func (o JoinOptions) isCheck(id string) bool {
	if isLabCheck(id) {
		return true
	}
	for _, pattern := range o.Checks {
		if pattern = tidy(pattern); pattern != "" && glob(strings.ToUpper(pattern), strings.ToUpper(id)) {
			return true
		}
	}
	return false
}

// glob tells whether text is one that the pattern stands for, in time that grows
// with the product of their lengths at worst.
func glob(pattern, text string) bool {
	p, s := []rune(pattern), []rune(text)
	i, k := 0, 0
	star, mark := -1, 0 // the last star, and where what follows it was tried
	for k < len(s) {
		switch {
		case i < len(p) && p[i] == '*':
			star, mark = i, k
			i++
		case i < len(p) && (p[i] == '?' || p[i] == s[k]):
			i++
			k++
		case star >= 0:
			mark++
			i, k = star+1, mark
		default:
			return false
		}
	}
	return strings.Trim(string(p[i:]), "*") == ""
}
