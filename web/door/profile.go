package door

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"text/template"
)

// Media types of the two forms in which a telephone takes an authority.
const (
	CertType    = "application/x-x509-ca-cert"
	ProfileType = "application/x-apple-aspen-config"
)

// profileText is a configuration profile with one root certificate, in the form
// that iOS publishes for device management (payload com.apple.security.root).
var profileText = template.Must(template.New("").Parse(`<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0">
<dict>
	<key>PayloadType</key><string>Configuration</string>
	<key>PayloadVersion</key><integer>1</integer>
	<key>PayloadIdentifier</key><string>needlepace.authority.{{.Short}}</string>
	<key>PayloadUUID</key><string>{{.Whole}}</string>
	<key>PayloadDisplayName</key><string>{{html .Name}}</string>
	<key>PayloadContent</key>
	<array>
		<dict>
			<key>PayloadType</key><string>com.apple.security.root</string>
			<key>PayloadVersion</key><integer>1</integer>
			<key>PayloadIdentifier</key><string>needlepace.authority.{{.Short}}.root</string>
			<key>PayloadUUID</key><string>{{.Root}}</string>
			<key>PayloadDisplayName</key><string>{{html .Name}}</string>
			<key>PayloadCertificateFileName</key><string>needlepace.crt</string>
			<key>PayloadContent</key>
			<data>{{.Content}}</data>
		</dict>
	</array>
</dict>
</plist>
`))

// Profile is the authority as a configuration profile. The same authority always
// gives the same profile, so that one installed twice replaces itself.
func (a *Authority) Profile() []byte {
	sum := sha256.Sum256(a.Cert.Raw)
	var b bytes.Buffer
	err := profileText.Execute(&b, map[string]string{
		"Short": fmt.Sprintf("%x", sum[:6]), "Whole": uuid(sum[:16]), "Root": uuid(sum[16:]),
		"Name": a.Cert.Subject.CommonName, "Content": base64.StdEncoding.EncodeToString(a.Cert.Raw),
	})
	if err != nil {
		panic(err) // a constant form, texts only
	}
	return b.Bytes()
}

// uuid is 16 bytes as a UUID of version 8 (RFC 9562 section 5.8: of one's own
// making).
func uuid(b []byte) string {
	u := bytes.Clone(b)
	u[6], u[8] = u[6]&0x0f|0x80, u[8]&0x3f|0x80
	return fmt.Sprintf("%X-%X-%X-%X-%X", u[:4], u[4:6], u[6:8], u[8:10], u[10:])
}
