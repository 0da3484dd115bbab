// Command corewalk carries mapped fields from a boundary file to cores in the
// ground, to lab results, to surfaces and to the patches that stand out.
package main

import "os"

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }
