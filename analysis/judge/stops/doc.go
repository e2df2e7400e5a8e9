// Package stops reads, writes and checks the labels of a bracket: stops as
// offsets from the base exposure, over positive, under negative.
//
// Labels come from file names (Assign, for a whole roll, which
// knows more than one name can say), from what somebody types (Parse,
// ParseList), or by order with a question (Assignment.Proposal). What could
// mean two things is never guessed: it is left unlabelled and said so.
package stops

// Limit is the largest stop, over or under, that a label may carry. A film
// holds fewer than 16 stops from threshold to full density (common practice, no
// source), so a larger number is a slip or no stop at all.
const Limit = 16.0

// Near is the distance in stops below which two labels are the same label. It
// is half of the last digit that Label writes.
const Near = 0.005
