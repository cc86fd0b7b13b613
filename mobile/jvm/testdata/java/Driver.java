import java.io.BufferedReader;
import java.io.IOException;
import java.io.InputStreamReader;
import java.io.PrintStream;
import java.lang.reflect.Field;
import java.lang.reflect.Method;
import java.lang.reflect.Modifier;
import java.nio.charset.StandardCharsets;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.Base64;
import java.util.List;
import java.util.Map;
import java.util.TreeMap;
import java.util.TreeSet;
import java.util.concurrent.Callable;
import java.util.concurrent.CyclicBarrier;
import java.util.concurrent.ExecutorService;
import java.util.concurrent.Executors;
import java.util.concurrent.Future;
import java.util.concurrent.LinkedBlockingQueue;
import java.util.concurrent.TimeUnit;

import mobile.Alarm;
import mobile.App;
import mobile.Mobile;
import mobile.Notice;
import mobile.Page;
import mobile.Platform;
import mobile.Watcher;

/**
 * Driver is a shell without a screen. It reads one order a line and answers each by one line: words
 * parted by spaces, the first as it is, the others as Base64 of their UTF-8, "-" for null. An
 * answer begins with "ok"; with "threw", then the exception's class and message, when the binding
 * threw; with "broken" when the driver itself was at fault.
 */
public final class Driver {
    /** Phone is the Platform of this machine. It counts how often each of its methods is asked. */
    static final class Phone implements Platform {
        static final long START = System.nanoTime();
        final Map<String, Integer> asked = new TreeMap<>();
        final String language;
        volatile String zone = "Etc/GMT-3";
        // The key store throws; and with what it mixes each byte, which stands for its key: of the
        // machine, so that they hold for the next that is opened too.
        static volatile boolean locked;
        static volatile int key;

        Phone(String language) {
            this.language = language;
        }

        private synchronized void ask(String what) {
            asked.merge(what, 1, Integer::sum);
        }

        synchronized List<byte[]> counts() {
            List<byte[]> all = new ArrayList<>();
            asked.forEach((what, n) -> all.add(bytes(what + "=" + n)));
            return all;
        }

        @Override
        public long sinceBoot() {
            ask("sinceBoot");
            // More than 32 bits hold, as after two months: it crosses as a long.
            return 6_000_000_000L + (System.nanoTime() - START) / 1_000_000;
        }

        @Override
        public String boot() {
            ask("boot");
            return "this-start-\u2460";
        }

        @Override
        public String zone() {
            ask("zone");
            return zone;
        }

        @Override
        public long zoneOffset() {
            ask("zoneOffset");
            return 3 * 3600;
        }

        @Override
        public long freeBytes() {
            ask("freeBytes");
            return 1L << 40;
        }

        @Override
        public long battery() {
            ask("battery");
            return 12;
        }

        @Override
        public boolean charging() {
            ask("charging");
            return false;
        }

        @Override
        public String language() {
            ask("language");
            return language;
        }

        @Override
        public boolean fullSync() {
            ask("fullSync");
            return true;
        }

        /** wrap mirrors each byte, under a mark. */
        @Override
        public byte[] wrap(byte[] secret) throws Exception {
            ask("wrap");
            if (locked) {
                throw new IllegalStateException("the key store is closed");
            }
            byte[] out = new byte[secret.length + 1];
            out[0] = 'W';
            for (int i = 0; i < secret.length; i++) {
                out[i + 1] = (byte) (~secret[i] ^ key);
            }
            Arrays.fill(secret, (byte) 0); // it is ours: a copy crossed
            return out;
        }

        @Override
        public byte[] unwrap(byte[] wrapped) throws Exception {
            ask("unwrap");
            if (locked || wrapped.length == 0 || wrapped[0] != 'W') {
                throw new IllegalStateException("the key store is closed");
            }
            byte[] out = new byte[wrapped.length - 1];
            for (int i = 0; i < out.length; i++) {
                out[i] = (byte) (~wrapped[i + 1] ^ key);
            }
            return out;
        }
    }

    /** Ear is the Watcher: it keeps what it hears until somebody asks. */
    static final class Ear implements Watcher {
        final LinkedBlockingQueue<String> heard = new LinkedBlockingQueue<>();

        @Override
        public void changed(Notice n) {
            StringBuilder b = new StringBuilder("changed stored=" + n.getStored() + " screen=" + n.getScreenOn());
            b.append(" key=" + n.getMarkKey() + " path=" + n.getPath() + " alarms=" + n.alarms());
            for (long i = 0; i < n.alarms(); i++) {
                Alarm a = n.alarm(i);
                b.append("\n" + a.getName() + "|" + a.getAt() + "|" + a.getSinceBoot() + "|" + a.getWords());
                b.append("|" + a.getPath() + "|" + a.getSound() + "|" + a.getBuzz());
            }
            if (n.alarm(-1) != null || n.alarm(n.alarms()) != null) {
                b.append("\nan alarm beyond the last");
            }
            heard.add(b.toString());
        }

        @Override
        public void due(Alarm a) {
            heard.add("due " + a.getWords());
        }

        @Override
        public void recorded() {
            heard.add("recorded");
        }
    }

    private final Ear ear = new Ear();
    private App app = new App(); // as the tool makes it: never opened
    private Phone phone;

    private static byte[] bytes(String s) {
        return s == null ? null : s.getBytes(StandardCharsets.UTF_8);
    }

    private static String text(byte[] b) {
        return b == null ? null : new String(b, StandardCharsets.UTF_8);
    }

    private static byte[] number(long n) {
        return bytes(Long.toString(n));
    }

    private static int whole(byte[] b) {
        return Integer.parseInt(text(b));
    }

    private byte[] send(byte[] message) {
        return bytes(app.send(text(message)));
    }

    /** together sends each tap from a thread of its own, all at once. */
    private List<byte[]> together(List<byte[]> taps) throws Exception {
        ExecutorService threads = Executors.newFixedThreadPool(taps.size());
        try {
            CyclicBarrier start = new CyclicBarrier(taps.size());
            List<Future<byte[]>> running = new ArrayList<>();
            for (byte[] tap : taps) {
                Callable<byte[]> one =
                        () -> {
                            start.await();
                            return send(tap);
                        };
                running.add(threads.submit(one));
            }
            List<byte[]> answers = new ArrayList<>();
            for (Future<byte[]> f : running) {
                answers.add(f.get());
            }
            return answers;
        } finally {
            threads.shutdown();
        }
    }

    /** members lists what a generated class declares for others, by name. */
    private static List<byte[]> members(String name) throws ClassNotFoundException {
        TreeSet<String> names = new TreeSet<>();
        for (Method m : Class.forName(name).getDeclaredMethods()) {
            if (Modifier.isPublic(m.getModifiers()) && !m.isSynthetic()) {
                names.add(m.getName());
            }
        }
        List<byte[]> all = new ArrayList<>();
        names.forEach(n -> all.add(bytes(n)));
        return all;
    }

    /** taps answers the nanoseconds that the taps take, one after the other. */
    private List<byte[]> taps(List<byte[]> messages) {
        List<String> texts = new ArrayList<>();
        messages.forEach(m -> texts.add(text(m)));
        long before = System.nanoTime();
        int sum = 0;
        for (String t : texts) {
            sum += app.send(t).length();
        }
        return List.of(number(System.nanoTime() - before), number(sum));
    }

    /** attach hands over a file and then overwrites it: it was only lent. */
    private void attach(String path, byte[] file) throws Exception {
        app.attach(path, file);
        if (file != null) {
            Arrays.fill(file, (byte) 'x');
        }
    }

    /** heard waits until the Watcher heard something that begins so, and gives it. */
    private byte[] heard(String begins) throws Exception {
        for (; ; ) {
            String s = ear.heard.poll(20, TimeUnit.SECONDS);
            if (s == null || s.startsWith(begins)) {
                return bytes(s);
            }
        }
    }

    /** time answers the nanoseconds that so many calls take: a bare getter, and a page by path. */
    private List<byte[]> time(int getters, int pages, String path) throws Exception {
        Page page = app.get(path);
        long sum = 0;
        long before = System.nanoTime();
        for (int i = 0; i < getters; i++) {
            sum += page.getStatus();
        }
        long getter = System.nanoTime() - before;
        before = System.nanoTime();
        for (int i = 0; i < pages; i++) {
            sum += app.get(path).getBody().length;
        }
        long whole = System.nanoTime() - before;
        return List.of(number(getter), number(whole), number(sum));
    }

    private List<byte[]> obey(String order, List<byte[]> args) throws Exception {
        switch (order) {
            case "members":
                return members(text(args.get(0)));
            case "open":
                phone = new Phone(text(args.get(2)));
                app = Mobile.open(text(args.get(0)), text(args.get(1)), phone);
                return List.of();
            case "open-without-platform":
                Mobile.open(text(args.get(0)), text(args.get(1)), null);
                return List.of();
            case "constants":
                List<byte[]> all = new ArrayList<>();
                for (Field f : Mobile.class.getFields()) {
                    all.add(bytes(f.getName() + "=" + f.get(null)));
                }
                return all;
            case "zone":
                phone.zone = text(args.get(0));
                return List.of();
            case "lock":
                Phone.locked = text(args.get(0)).equals("yes");
                return List.of();
            case "key":
                Phone.key = whole(args.get(0));
                return List.of();
            case "mark":
                app.mark(text(args.get(0)));
                return List.of();
            case "attach":
                attach(text(args.get(0)), args.get(1));
                return List.of();
            case "connected":
                app.connected(whole(args.get(0)));
                return List.of();
            case "watch":
                app.watch(text(args.get(0)).equals("yes") ? ear : null);
                return List.of();
            case "heard":
                return Arrays.asList(heard(text(args.get(0))));
            case "taps":
                return taps(args);
            case "empty-notice":
                Notice none = new Notice();
                return List.of(number(none.alarms()), bytes(String.valueOf(none.alarm(0))), bytes(new Alarm().getWords()));
            case "get":
                Page page = app.get(text(args.get(0)));
                return Arrays.asList(
                        number(page.getStatus()),
                        bytes(page.getType()),
                        bytes(page.getName()),
                        page.getBody(),
                        bytes(page.getMedia() + (page.getCharset().isEmpty() ? "" : "; charset=" + page.getCharset())));
            case "send":
                return Arrays.asList(send(args.get(0)));
            case "together":
                return together(args);
            case "suspend":
                app.suspend();
                return List.of();
            case "resume":
                app.resume();
                return List.of();
            case "close":
                app.close();
                return List.of();
            case "asked":
                return phone.counts();
            case "collect":
                System.gc(); // what Go still holds must live on
                return List.of();
            case "time":
                return time(whole(args.get(0)), whole(args.get(1)), text(args.get(2)));
            default:
                throw new IllegalStateException("no such order: " + order);
        }
    }

    private static String line(String head, List<byte[]> words) {
        StringBuilder b = new StringBuilder(head);
        for (byte[] w : words) {
            b.append(' ').append(w == null ? "-" : "=" + Base64.getEncoder().encodeToString(w));
        }
        return b.append('\n').toString();
    }

    private String answer(String order) {
        String[] words = order.split(" ");
        List<byte[]> args = new ArrayList<>();
        for (int i = 1; i < words.length; i++) {
            args.add(words[i].equals("-") ? null : Base64.getDecoder().decode(words[i].substring(1)));
        }
        try {
            return line("ok", obey(words[0], args));
        } catch (RuntimeException e) {
            return line("broken", List.of(bytes(e.toString())));
        } catch (Exception e) {
            return line("threw", Arrays.asList(bytes(e.getClass().getName()), bytes(e.getMessage())));
        }
    }

    public static void main(String[] args) throws IOException {
        Driver driver = new Driver();
        PrintStream out = new PrintStream(System.out, false, StandardCharsets.US_ASCII);
        BufferedReader in = new BufferedReader(new InputStreamReader(System.in, StandardCharsets.US_ASCII));
        for (String order = in.readLine(); order != null; order = in.readLine()) {
            out.print(driver.answer(order));
            out.flush();
        }
        // Threads of Go that asked the Phone count as Java's own from then on, and have no end: to
        // return from here would be to wait for them for ever.
        System.exit(0);
    }
}
