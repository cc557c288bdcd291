// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

import java.io.StringReader;
import java.time.DateTimeException;
import java.time.Instant;
import java.time.format.DateTimeFormatter;
import java.util.ArrayList;
import java.util.HashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import javax.xml.stream.XMLInputFactory;
import javax.xml.stream.XMLStreamConstants;
import javax.xml.stream.XMLStreamException;
import javax.xml.stream.XMLStreamReader;

/**
 * Reads what {@code EvtRender} gives with {@code EvtRenderEventXml}: one element "Event" (vendor's document "Event
 * Schema", complex types "EventType", "SystemPropertiesType", "EventDataType"). Any program may write into the log, so
 * the text is hostile until read: no document type, no entities but the five of XML itself, everything bounded.
 */
final class EventXml {
    /** The service refuses events of more than 64 KiB (document "ReportEvent"); as XML, binary data is twice that. */
    static final int CHARS_MOST = 512 * 1024;

    private static final int DEPTH_MOST = 16;
    private static final int DATA_MOST = 128;
    private static final int VALUE_CHARS_MOST = 4096;
    private static final String NAMESPACE = "http://schemas.microsoft.com/win/2004/08/events/event";

    private EventXml() {}

    /** @throws UnreadableEvent for anything that is not one whole event within bounds */
    static Event read(String xml) throws UnreadableEvent {
        if (xml.length() > CHARS_MOST) {
            throw new UnreadableEvent("longer than " + CHARS_MOST + " characters");
        }
        try {
            XMLStreamReader reader = factory().createXMLStreamReader(new StringReader(xml));
            try {
                return new Reading(reader).event();
            } finally {
                reader.close();
            }
        } catch (XMLStreamException e) {
            throw new UnreadableEvent("not well-formed XML", e);
        } catch (RuntimeException e) { // the parser's own defects, met with texts that were made to find them
            throw new UnreadableEvent("the XML parser gave up: " + e.getClass().getSimpleName(), e);
        }
    }

    private static XMLInputFactory factory() {
        // The JDK's own, whatever a class path or a system property offers.
        XMLInputFactory factory = XMLInputFactory.newDefaultFactory();
        factory.setProperty(XMLInputFactory.SUPPORT_DTD, false);
        factory.setProperty(XMLInputFactory.IS_SUPPORTING_EXTERNAL_ENTITIES, false);
        factory.setProperty(XMLInputFactory.IS_NAMESPACE_AWARE, true);
        factory.setXMLResolver((publicId, systemId, base, namespace) -> {
            throw new XMLStreamException("nothing outside the event is looked at");
        });
        return factory;
    }

    /** One walk through one text. */
    private static final class Reading {
        private final XMLStreamReader reader;
        private final List<String> path = new ArrayList<>();
        private final StringBuilder text = new StringBuilder();
        private final Map<String, String> named = new HashMap<>();
        private final List<String> values = new ArrayList<>();
        private String provider = "";
        private String dataName = "";
        private int id = -1;
        private int level;
        private long recordId;
        private String user = "";
        private Optional<Instant> time = Optional.empty();
        private String binary = "";

        Reading(XMLStreamReader reader) {
            this.reader = reader;
        }

        Event event() throws XMLStreamException, UnreadableEvent {
            while (reader.hasNext()) {
                switch (reader.next()) {
                    case XMLStreamConstants.DTD, XMLStreamConstants.ENTITY_REFERENCE ->
                        throw new UnreadableEvent("it brings a document type or an entity");
                    case XMLStreamConstants.START_ELEMENT -> begin();
                    case XMLStreamConstants.CHARACTERS, XMLStreamConstants.CDATA -> add();
                    case XMLStreamConstants.END_ELEMENT -> end();
                    default -> {
                        // comments, instructions and white space say nothing
                    }
                }
            }
            if (provider.isEmpty() || id < 0) {
                throw new UnreadableEvent("no provider or no number");
            }
            return new Event(provider, id, level, time, recordId, user, named, values, binary);
        }

        private void begin() throws UnreadableEvent {
            if (path.isEmpty()
                    && !(reader.getLocalName().equals("Event") && NAMESPACE.equals(reader.getNamespaceURI()))) {
                throw new UnreadableEvent("its root is not an event");
            }
            if (path.size() >= DEPTH_MOST) {
                throw new UnreadableEvent("nested too deep");
            }
            path.add(reader.getLocalName());
            text.setLength(0);
            switch (String.join("/", path)) {
                case "Event/System/Provider" -> provider = attribute("Name");
                case "Event/System/TimeCreated" -> time = instant(attribute("SystemTime"));
                case "Event/System/Security" -> user = attribute("UserID");
                case "Event/EventData/Data" -> dataName = attribute("Name");
                default -> {
                    // its text counts, or nothing
                }
            }
        }

        private String attribute(String name) {
            String value = reader.getAttributeValue(null, name);
            return value == null ? "" : cut(value);
        }

        private void add() {
            int room = VALUE_CHARS_MOST - text.length();
            if (room > 0) {
                String more = reader.getText();
                text.append(more, 0, Math.min(room, more.length()));
            }
        }

        private void end() throws UnreadableEvent {
            switch (String.join("/", path)) {
                case "Event/System/EventID" -> id = (int) number(0xffff, "EventID");
                case "Event/System/Level" -> level = (int) number(0xff, "Level");
                case "Event/System/EventRecordID" -> recordId = number(Long.MAX_VALUE, "EventRecordID");
                case "Event/EventData/Binary" -> binary = text.toString().strip();
                case "Event/EventData/Data" -> {
                    if (values.size() >= DATA_MOST) {
                        throw new UnreadableEvent("more than " + DATA_MOST + " data");
                    }
                    values.add(text.toString());
                    if (!dataName.isEmpty()) {
                        named.putIfAbsent(dataName, text.toString());
                    }
                }
                default -> {
                    // not asked for
                }
            }
            text.setLength(0);
            path.remove(path.size() - 1);
        }

        private long number(long most, String what) throws UnreadableEvent {
            String digits = text.toString().strip();
            try {
                long value = Long.parseLong(digits);
                if (value >= 0 && value <= most) {
                    return value;
                }
            } catch (NumberFormatException e) {
                throw new UnreadableEvent(what + " is not a number", e);
            }
            throw new UnreadableEvent(what + " is out of range");
        }

        private static String cut(String value) {
            return value.length() <= VALUE_CHARS_MOST ? value : value.substring(0, VALUE_CHARS_MOST);
        }

        /** Seven or nine digits of a second have been seen. */
        private static Optional<Instant> instant(String value) {
            try {
                return Optional.of(DateTimeFormatter.ISO_INSTANT.parse(value, Instant::from));
            } catch (DateTimeException e) {
                return Optional.empty();
            }
        }
    }
}
