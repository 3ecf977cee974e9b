// Command provider is an OpenID provider for checks, on this machine alone: everybody is let in at once as the same
// person. It prints what MENISCUS_OIDC is to say of it for an institution, and runs until its input ends.
package main

import (
	"encoding/json"
	"fmt"
	"io"
	"log"
	"os"

	"github.com/oauth2-proxy/mockoidc"
)

func main() {
	if len(os.Args) != 2 {
		log.Fatal("usage: provider INSTITUTION")
	}
	provider, err := mockoidc.Run()
	if err != nil {
		log.Fatal(err)
	}
	for range 100 {
		provider.QueueUser(&mockoidc.MockUser{Subject: "u-17", PreferredUsername: "Ilse Varga", Groups: []string{"bench", "store"}})
	}
	said, err := json.Marshal([]map[string]any{{"institution": os.Args[1], "issuer": provider.Issuer(), "audience": "meniscus",
		"algorithms": []string{"RS256"}, "rolesClaim": "groups", "roles": map[string]string{"bench": "recorder", "store": "stock-keeper"},
		"nameClaim": "preferred_username", "clientId": provider.ClientID, "clientSecret": provider.ClientSecret,
		"scope": "openid profile groups", "name": "the museum's accounts"}})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(string(said))
	_, _ = io.Copy(io.Discard, os.Stdin) // its end is all that is waited for
	_ = provider.Shutdown()
}
