// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import static java.nio.charset.StandardCharsets.ISO_8859_1;

import java.io.ByteArrayOutputStream;
import java.util.HexFormat;
import java.util.List;

/** Signs changed bytes again in the same place, as a signer would who does not keep our rules. */
public final class Resigned {
    private Resigned() {}

    public static byte[] with(byte[] pdf, SigningKey key) throws SigningException {
        String text = new String(pdf, ISO_8859_1);
        int from = text.indexOf("/Contents <3") + "/Contents ".length();
        int until = text.indexOf('>', from) + 1;
        ByteArrayOutputStream covered = new ByteArrayOutputStream();
        covered.write(pdf, 0, from);
        covered.write(pdf, until, pdf.length - until);
        byte[] digest = Cms.digest(key.kind().digestName, covered.toByteArray());
        List<byte[]> chain = key.encodedChain();
        for (int i = 0; i < 2000; i++) {
            byte[] cms =
                    Cms.assemble(key.kind(), chain, digest, key.sign(Cms.signedAttributes(key.kind(), chain, digest)));
            if (2 * cms.length + 2 == until - from) {
                String hex = "<" + HexFormat.of().formatHex(cms) + ">";
                return (text.substring(0, from) + hex + text.substring(until)).getBytes(ISO_8859_1);
            }
        }
        throw new IllegalStateException("no signature of the same length");
    }
}
