// Package supply takes package names, hashes and a folder for this machine's
// copy from its own tables, and gives to cli what a check needs: the
// converted networks, the inference library and the decoder.
//
// Everything is fetched by name and version through the npm program (which
// knows its registry), or taken from a folder; checked against the hashes in
// catalogue.go before a byte of it is used; and put in its place whole, by
// renaming, so that a set-up that is killed leaves nothing half-done.
package supply
