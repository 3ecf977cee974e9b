package judge

import (
	"encoding/json"
	"fmt"

	"github.com/getkin/kin-openapi/openapi3"
)

// judgeBrief is an error if a brief answer has a member that the contract gives only in
// full.
func judgeBrief(schema *openapi3.SchemaRef, body []byte) error {
	var value any
	if err := json.Unmarshal(body, &value); err != nil {
		return fmt.Errorf("the body is not JSON: %w", err)
	}
	return briefly(schema, value, "")
}

func briefly(schema *openapi3.SchemaRef, value any, at string) error {
	if schema == nil {
		return nil
	}
	switch value := value.(type) {
	case []any:
		for i, item := range value {
			if err := briefly(schema.Value.Items, item, fmt.Sprint(at, "/", i)); err != nil {
				return err
			}
		}
	case map[string]any:
		for name, item := range value {
			member := schema.Value.Properties[name]
			if onlyInFull(member) {
				return fmt.Errorf("%s/%s comes only with detail=full", at, name)
			}
			if err := briefly(member, item, at+"/"+name); err != nil {
				return err
			}
		}
	}
	return nil
}

// onlyInFull tells whether a member has `x-detail: full`, beside a reference or in its
// own schema.
func onlyInFull(member *openapi3.SchemaRef) bool {
	if member == nil {
		return false
	}
	return member.Extensions["x-detail"] == "full" || member.Ref == "" && member.Value.Extensions["x-detail"] == "full"
}
