// Package sampling decides where soil cores go: it splits mapped fields into
// sampling units, places cores at random in each, and gives every unit the id
// that its composite travels under.
//
// Every random choice comes from the plan's seed, by a stream of its own for
// each field and unit, so that a field's cores do not change when another field
// is added to the file.
package sampling
