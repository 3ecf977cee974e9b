//go:build ignore

// Command kubernetes reads manifests into the types of Kubernetes's own API, strictly, and
// checks what the types cannot: that selectors match the pods, that ports and probes name
// ports of the container, that what is mounted is a volume, and that each setting is one
// that the README lists. deploy/check/kubernetes.sh builds it in a module of its own.
//
//	kubernetes README.md FILE...
package main

import (
	"bytes"
	"fmt"
	"maps"
	"os"
	"regexp"
	"slices"

	apps "k8s.io/api/apps/v1"
	autoscaling "k8s.io/api/autoscaling/v2"
	batch "k8s.io/api/batch/v1"
	core "k8s.io/api/core/v1"
	networking "k8s.io/api/networking/v1"
	policy "k8s.io/api/policy/v1"
	meta "k8s.io/apimachinery/pkg/apis/meta/v1"
	"k8s.io/apimachinery/pkg/util/intstr"
	"sigs.k8s.io/yaml"
)

// manifests are what the files hold.
type manifests struct {
	findings    []string
	read        int
	settings    map[string]bool // that the README lists
	deployments []apps.Deployment
	jobs        []batch.Job
	services    []core.Service
	accounts    []core.ServiceAccount
	budgets     []policy.PodDisruptionBudget
	scalers     []autoscaling.HorizontalPodAutoscaler
	walls       []networking.NetworkPolicy
}

func (m *manifests) say(format string, args ...any) {
	m.findings = append(m.findings, fmt.Sprintf(format, args...))
}

func decode[T any](m *manifests, document []byte, into *[]T) {
	var of T
	if err := yaml.UnmarshalStrict(document, &of); err != nil {
		m.say("%v", err)
		return
	}
	*into, m.read = append(*into, of), m.read+1
}

func (m *manifests) document(document []byte) {
	var kind meta.TypeMeta
	if err := yaml.Unmarshal(document, &kind); err != nil {
		m.say("%v", err)
		return
	}
	switch kind.APIVersion + " " + kind.Kind {
	case "apps/v1 Deployment":
		decode(m, document, &m.deployments)
	case "batch/v1 Job":
		decode(m, document, &m.jobs)
	case "v1 Service":
		decode(m, document, &m.services)
	case "v1 ServiceAccount":
		decode(m, document, &m.accounts)
	case "policy/v1 PodDisruptionBudget":
		decode(m, document, &m.budgets)
	case "autoscaling/v2 HorizontalPodAutoscaler":
		decode(m, document, &m.scalers)
	case "networking.k8s.io/v1 NetworkPolicy":
		decode(m, document, &m.walls)
	default:
		m.say("no type is known here for %s %s", kind.APIVersion, kind.Kind)
	}
}

// pod checks one pod, and gives the names of its containers' ports.
func (m *manifests) pod(of string, pod core.PodSpec) map[string]bool {
	ports, volumes := map[string]bool{}, map[string]bool{}
	for _, v := range pod.Volumes {
		volumes[v.Name] = true
	}
	if pod.SecurityContext == nil || pod.SecurityContext.RunAsNonRoot == nil || !*pod.SecurityContext.RunAsNonRoot {
		m.say("%s may run as root", of)
	}
	for _, c := range slices.Concat(pod.InitContainers, pod.Containers) {
		for _, p := range c.Ports {
			ports[p.Name] = true
		}
		for _, mount := range c.VolumeMounts {
			if !volumes[mount.Name] {
				m.say("%s mounts %s, which is no volume", of, mount.Name)
			}
		}
		for _, e := range c.Env {
			if !m.settings[e.Name] {
				m.say("%s sets %s, which the README does not list", of, e.Name)
			}
		}
		for _, probe := range []*core.Probe{c.StartupProbe, c.ReadinessProbe, c.LivenessProbe} {
			if probe != nil && (probe.HTTPGet == nil || !ports[probe.HTTPGet.Port.StrVal]) {
				m.say("%s has a probe of no port of its own", of)
			}
		}
		if c.Resources.Limits.Memory().IsZero() || c.Resources.Limits.Cpu().IsZero() {
			m.say("%s takes memory or processors without a limit", of)
		}
		if s := c.SecurityContext; s == nil || s.ReadOnlyRootFilesystem == nil || !*s.ReadOnlyRootFilesystem {
			m.say("%s may write to its own files", of)
		}
	}
	return ports
}

// fit checks that the manifests fit together.
func (m *manifests) fit() {
	if len(m.deployments) != 1 || len(m.jobs) != 1 || len(m.services) != 1 || len(m.accounts) != 1 || len(m.budgets) != 1 ||
		len(m.scalers) != 1 || len(m.walls) != 1 {
		m.say("something of a service, its migration, budget, scaler and network is missing")
		return
	}
	d := m.deployments[0]
	labels, ports := d.Spec.Template.Labels, m.pod(d.Name, d.Spec.Template.Spec)
	m.pod(m.jobs[0].Name, m.jobs[0].Spec.Template.Spec)
	if d.Spec.Template.Spec.ServiceAccountName != m.accounts[0].Name {
		m.say("%s has an account that is not here", d.Name)
	}
	if d.Spec.Template.Spec.Containers[0].LivenessProbe == nil || d.Spec.Template.Spec.Containers[0].ReadinessProbe == nil {
		m.say("%s has not all probes", d.Name)
	}
	named := func(at string, port *intstr.IntOrString) {
		if port != nil && port.Type == intstr.String && !ports[port.StrVal] {
			m.say("%s names the port %s, which no container has", at, port.StrVal)
		}
	}
	for at, selector := range map[string]map[string]string{
		"the deployment": d.Spec.Selector.MatchLabels, "the service": m.services[0].Spec.Selector,
		"the budget": m.budgets[0].Spec.Selector.MatchLabels, "the network policy": m.walls[0].Spec.PodSelector.MatchLabels,
	} {
		if !maps.Equal(selector, labels) {
			m.say("%s selects %v, and the pods are %v", at, selector, labels)
		}
	}
	for _, p := range m.services[0].Spec.Ports {
		named("the service", &p.TargetPort)
	}
	for _, rule := range m.walls[0].Spec.Ingress {
		for _, p := range rule.Ports {
			named("the network policy", p.Port)
		}
	}
	if of := m.scalers[0].Spec.ScaleTargetRef; of.Kind != "Deployment" || of.Name != d.Name {
		m.say("the scaler is of %s %s", of.Kind, of.Name)
	}
}

func main() {
	m := manifests{settings: map[string]bool{}}
	readme, err := os.ReadFile(os.Args[1])
	if err != nil {
		m.say("%v", err)
	}
	for _, name := range regexp.MustCompile(`(?m)^\| .([A-Z_]+). \|`).FindAllSubmatch(readme, -1) {
		m.settings[string(name[1])], m.settings[string(name[1])+"_FILE"] = true, true
	}
	for _, file := range os.Args[2:] {
		content, err := os.ReadFile(file)
		if err != nil {
			m.say("%v", err)
		}
		for _, document := range bytes.Split(content, []byte("\n---\n")) {
			m.document(document)
		}
	}
	m.fit()
	for _, finding := range m.findings {
		fmt.Fprintln(os.Stderr, " ", finding)
	}
	fmt.Printf("kubernetes: %d manifests read into the types of the API, %d findings\n", m.read, len(m.findings))
	if len(m.findings) > 0 {
		os.Exit(1)
	}
}
