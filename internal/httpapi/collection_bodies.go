package httpapi

import (
	"encoding/json"
	"time"

	"meniscus/api"
	"meniscus/internal/postgres"
	"meniscus/internal/wire"
)

// mostCollections is how many collections the contract lists.
const mostCollections = 1000

// listCollectionBodies tells how the bodies of collections are made.
func listCollectionBodies(_ *Server, c *requestContext) (*answer, error) {
	chosen, err := c.tenant().CollectionBodies(c.ctx(), mostCollections)
	if err != nil {
		return nil, err
	}
	list := api.CollectionBodyList{Items: make([]api.CollectionBody, 0, len(chosen))}
	for _, x := range chosen {
		item, err := collectionBody(x)
		if err != nil {
			return nil, err
		}
		list.Items = append(list.Items, item)
	}
	return ok(list)
}

// chooseCollectionBody keeps how the bodies of a collection are made.
func chooseCollectionBody(s *Server, c *requestContext) (*answer, error) {
	request, err := decode[api.CollectionBodyRequest](c)
	if err != nil {
		return nil, err
	}
	traits, err := wire.Encode(request.BodyTraits)
	if err != nil {
		return nil, err
	}
	x := postgres.CollectionBody{
		Collection: request.Collection, Traits: string(traits), By: c.principal.Person, At: s.now(),
	}
	if err := c.tenant().ChooseCollectionBody(c.ctx(), newRequestID(), x); err != nil {
		return nil, err
	}
	item, err := collectionBody(x)
	if err != nil {
		return nil, err
	}
	return ok(item)
}

// someOf is a number, or nil for 0.
func someOf(n int64) *int64 {
	if n == 0 {
		return nil
	}
	return &n
}

func collectionBody(x postgres.CollectionBody) (out api.CollectionBody, err error) {
	out = api.CollectionBody{Collection: x.Collection, By: api.Ref(x.By), At: x.At.UTC().Truncate(time.Microsecond)}
	err = json.Unmarshal([]byte(x.Traits), &out.BodyTraits)
	return out, err
}
