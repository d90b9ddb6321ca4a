package store

import (
	"context"
	"time"
)

// MessageState is where a message to a runner stands.
type MessageState string

// The states of a message.
const (
	// Handed: somebody took it along, to send it with a program of their own.
	Handed MessageState = "handed"
	// Queued: it waits to be sent from here. Leaving: it is being sent, or
	// the program ended while it was. Sent: the mail server took it.
	Queued  MessageState = "queued"
	Leaving MessageState = "leaving"
	Sent    MessageState = "sent"
	// Unsent: it did not leave, or nobody knows; Reason tells.
	Unsent MessageState = "unsent"
)

// Message is what was written to a runner.
type Message struct {
	ID       string `json:"id"`
	RunnerID string `json:"runner_id"`
	// Kind is what it is about, as package followup names it.
	Kind      string       `json:"kind"`
	State     MessageState `json:"state"`
	Recipient string       `json:"recipient"`
	Subject   string       `json:"subject"`
	Body      string       `json:"body"`
	// Calendar is an invitation (RFC 5545) that goes with it; may be empty.
	Calendar string `json:"calendar"`
	// Stop is the address of the page on which the runner stops messages.
	Stop   string    `json:"-"`
	Reason string    `json:"reason"`
	By     Who       `json:"by"`
	Made   time.Time `json:"made"`
	// Ended is when it was Handed, Sent or Unsent; zero until then.
	Ended time.Time `json:"ended"`
}

// Messages keeps what was written to runners, and who wants nothing written.
type Messages interface {
	// AddMessage adds a message that is Handed or Queued. A form.Error where
	// the runner wants no messages.
	AddMessage(ctx context.Context, m Message) (Message, error)
	Message(ctx context.Context, id string) (Message, error)
	// RunnerMessages lists the earliest first.
	RunnerMessages(ctx context.Context, runnerID string) ([]Message, error)
	// MoveMessage takes a message from one state to another: ErrConflict where
	// it is in a third.
	MoveMessage(ctx context.Context, id string, from, to MessageState, reason string) error
	// Object records that a runner wants no messages, or wants them again.
	// What waits to be sent then is Unsent.
	Object(ctx context.Context, runnerID string, objects bool) error
	// Objections gives who wants no messages, and since when.
	Objections(ctx context.Context) (map[string]time.Time, error)
}
