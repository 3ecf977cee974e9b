package httpapi

import (
	"crypto/rand"
	"net/http"

	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/webhook"
)

func listWebhooks(s *Server, c *requestContext) (*answer, error) {
	hooks, err := c.tenant().Webhooks(c.ctx())
	if err != nil {
		return nil, err
	}
	list := api.WebhookList{Items: make([]api.Webhook, 0, len(hooks))}
	for _, h := range hooks {
		list.Items = append(list.Items, webhookOf(h))
	}
	return ok(list)
}

// createWebhook keeps an endpoint and shows its secret.
func createWebhook(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.WebhookRequest](c)
	if err != nil {
		return nil, err
	}
	key, err := c.neededKey("webhook")
	if err != nil {
		return nil, err
	}
	if s.keeper == nil {
		return nil, noKeeper
	}
	if wrong := s.targets.CheckURL(request.Url); wrong != "" {
		return nil, fault.New("url-not-taken", "/url", "%s", wrong)
	}
	if err := s.checkStart(c, request.StartAfter); err != nil {
		return nil, err
	}
	hook := postgres.Webhook{
		ID: newRequestID(), URL: request.Url, Name: request.Name, Kinds: kindsOf(request.Kinds), Content: "whole",
	}
	if request.Content != nil {
		hook.Content = string(*request.Content)
	}
	made, kept, replayed, err := c.tenant().CreateWebhook(
		c.ctx(), c.author().Write(key), hook, request.StartAfter, s.newSecret(c, hook.ID))
	if err != nil {
		return nil, err
	}
	secret, err := s.openSecret(c, kept)
	if err != nil {
		return nil, err
	}
	shown := webhookOf(made)
	shown.Secret = &secret
	a, err := shownOnce(shown, replayed)
	if err == nil {
		a.setHeader("Location", "/v1/webhooks/"+made.ID.String())
	}
	return a, err
}

var noKeeper = fault.Of(fault.Unavailable, "webhooks-not-set-up",
	"Webhooks need a key to keep their secrets with; the operator sets MENISCUS_SECRET_KEY. /v1/changes and its stream work without.")

// neededKey reads the Idempotency-Key of a create that has no other identity.
func (c *requestContext) neededKey(what string) (*postgres.RequestKey, error) {
	key, err := c.requestKey()
	if err == nil && key == nil {
		err = fault.Of(fault.Malformed, "idempotency-key-missing",
			"Send an Idempotency-Key, so that sending it twice makes one %s.", what)
	}
	return key, err
}

// checkStart refuses to start after the last sequence number: entries up to the start
// would be skipped.
func (s *Server) checkStart(c *requestContext, after *int64) error {
	if after == nil {
		return nil
	}
	last, err := c.tenant().LastSequence(c.ctx())
	if err == nil && *after > last {
		return fault.New("sequence-unknown", "/startAfter", "The last sequence number is %d; write that or less.", last)
	}
	return err
}

func kindsOf(kinds *api.WebhookKinds) []string {
	texts := []string{}
	if kinds != nil {
		for _, k := range *kinds {
			texts = append(texts, string(k))
		}
	}
	return texts
}

// newSecret makes a signing secret and encrypts it for keeping.
func (s *Server) newSecret(c *requestContext, hook uuid.UUID) postgres.KeptSecret {
	secret := make(webhook.Secret, webhook.SecretSize)
	var nonce [webhook.NonceSize]byte
	_, _ = rand.Read(secret) // never fails
	_, _ = rand.Read(nonce[:])
	id := newRequestID()
	return postgres.KeptSecret{
		ID: id, Webhook: hook, Kept: s.keeper.Keep(secret, webhook.About(c.principal.Institution, hook, id), nonce),
	}
}

func (s *Server) openSecret(c *requestContext, kept postgres.KeptSecret) (string, error) {
	secret, err := s.keeper.Open(kept.Kept, webhook.About(c.principal.Institution, kept.Webhook, kept.ID))
	if err != nil {
		return "", err
	}
	return secret.Text(), nil
}

// shownOnce is a create's answer with a secret in it, which no cache may keep.
func shownOnce(v any, replayed bool) (*answer, error) {
	a, err := with(http.StatusCreated, v)
	if err != nil {
		return nil, err
	}
	a.noStore = true
	return a.saidBefore(replayed), nil
}

func readWebhook(s *Server, c *requestContext) (*answer, error) {
	return answerWebhook(c.tenant().Webhook(c.ctx(), c.id("webhookId")))
}

func suspendWebhook(s *Server, c *requestContext) (*answer, error) {
	return answerWebhook(c.tenant().StopWebhook(c.ctx(), c.id("webhookId")))
}

func resumeWebhook(s *Server, c *requestContext) (*answer, error) {
	return answerWebhook(c.tenant().ResumeWebhook(c.ctx(), c.id("webhookId")))
}

func answerWebhook(h postgres.Webhook, err error) (*answer, error) {
	if err != nil {
		return nil, err
	}
	return ok(webhookOf(h))
}

func deleteWebhook(s *Server, c *requestContext) (*answer, error) {
	h, err := c.tenant().Webhook(c.ctx(), c.id("webhookId"))
	if err != nil {
		return nil, err
	}
	return &answer{status: http.StatusNoContent}, c.tenant().DeleteWebhook(c.ctx(), h.ID)
}

// rotateWebhookSecret adds a secret and lets those before it run out.
func rotateWebhookSecret(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.WebhookSecretRequest](c)
	if err != nil {
		return nil, err
	}
	key, err := c.neededKey("secret")
	if err != nil {
		return nil, err
	}
	if s.keeper == nil {
		return nil, noKeeper
	}
	h, err := c.tenant().Webhook(c.ctx(), c.id("webhookId"))
	if err != nil {
		return nil, err
	}
	overlap := usualOverlap
	if request.OverlapHours != nil {
		overlap = int(*request.OverlapHours)
	}
	kept, replayed, err := c.tenant().RotateSecret(
		c.ctx(), c.author().Write(key), h.ID, s.newSecret(c, h.ID), hours(overlap))
	if err != nil {
		return nil, err
	}
	secret, err := s.openSecret(c, kept)
	if err != nil {
		return nil, err
	}
	return shownOnce(api.WebhookSecret{Id: kept.ID, Secret: secret, MadeAt: kept.MadeAt}, replayed)
}

func webhookOf(h postgres.Webhook) api.Webhook {
	out := api.Webhook{
		Id: h.ID, Url: h.URL, Name: h.Name, Kinds: make(api.WebhookKinds, 0, len(h.Kinds)),
		Content: api.WebhookContent(h.Content), CreatedAt: h.CreatedAt, NextSequence: h.NextSeq,
		FailedAttempts: int32(h.Attempts), FailingSince: h.FailingSince, NextAttemptAt: h.DueAt,
	}
	for _, k := range h.Kinds {
		out.Kinds = append(out.Kinds, api.RecordKind(k))
	}
	if h.StoppedAt != nil {
		out.NextAttemptAt = nil
		out.Stopped = &struct {
			At  api.Instant           `json:"at"`
			Why api.WebhookStoppedWhy `json:"why"`
		}{*h.StoppedAt, api.WebhookStoppedWhy(*h.StoppedWhy)}
	}
	return out
}
