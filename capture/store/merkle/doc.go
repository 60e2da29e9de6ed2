// Package merkle is the Merkle tree of RFC 6962, section 2.1 (RFC 9162, section
// 2.1 has the same hashes), over records: one hash that stands for a list of
// records, and short proofs about that list.
//
// What it gives:
//
//   - [Tree] takes leaves one by one and knows the root at any moment. It keeps
//     only the roots of complete subtrees, at most 64 hashes, whatever the size.
//   - [Path] and [Verify]: this record stands at this place of the list with
//     that root. Whoever checks needs the record and about log2(size) hashes,
//     not the other records.
//   - [Consistency] and [VerifyConsistency]: the list with that root begins with
//     the list that had the earlier root; nothing was changed or taken out.
//
// What it does not give: a root says nothing about who wrote the records, when,
// or whether they are true. Somebody who can replace the root can replace the
// list. A root has worth only where its owner cannot change it any more.
//
// Leaves and inner nodes are hashed with different first bytes, so that no inner
// node can pass for a record. The size of the tree is not part of the root: keep
// and compare both.
//
// The package imports nothing of ours. Nothing in it is safe for concurrent use
// except the plain functions.
package merkle
