// This program receives deliveries at PORT (9000 if empty). SECRET is the secret of the webhook; without it
// nothing is believed.

//go:build ignore

package main

import (
	"cmp"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"log"
	"net/http"
	"os"
	"strconv"
	"strings"
	"time"
)

func genuine(secret []byte, h http.Header, body []byte) bool {
	stamp, err := strconv.ParseInt(h.Get("webhook-timestamp"), 10, 64)
	if err != nil || time.Since(time.Unix(stamp, 0)).Abs() > 5*time.Minute {
		return false
	}
	mac := hmac.New(sha256.New, secret)
	fmt.Fprintf(mac, "%s.%d.%s", h.Get("webhook-id"), stamp, body)
	made := "v1," + base64.StdEncoding.EncodeToString(mac.Sum(nil))
	for _, signature := range strings.Fields(h.Get("webhook-signature")) {
		if hmac.Equal([]byte(signature), []byte(made)) {
			return true
		}
	}
	return false
}

func main() {
	secret, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(os.Getenv("SECRET"), "whsec_"))
	if err != nil || len(secret) < 24 {
		log.Fatal("SECRET is no secret of a webhook")
	}
	receive := func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, 1<<20))
		var event struct{ Type, Subject string }
		if err != nil || !genuine(secret, r.Header, body) || json.Unmarshal(body, &event) != nil {
			w.WriteHeader(http.StatusUnauthorized)
			return
		}
		fmt.Println(event.Type, event.Subject) // the same webhook-id may come again: remember those that you have done
		w.WriteHeader(http.StatusNoContent)
	}
	log.Fatal(http.ListenAndServe("127.0.0.1:"+cmp.Or(os.Getenv("PORT"), "9000"), http.HandlerFunc(receive)))
}
