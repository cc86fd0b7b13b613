import Foundation
import Mobile
import WebKit

/// Answers what a page asks for with GET, out of the companion. There is no
/// socket, and nothing but the shell's own origin.
final class Pages: NSObject, WKURLSchemeHandler {
    private unowned let companion: Companion
    /// Those that nobody stopped; main thread only.
    private var running = Set<ObjectIdentifier>()

    init(companion: Companion) {
        self.companion = companion
    }

    /// The path of the companion that a URL stands for, with its query; nil: it
    /// is of another origin.
    static func path(of url: URL) -> String? {
        guard let parts = URLComponents(url: url, resolvingAgainstBaseURL: true),
            let own = URLComponents(string: MobileOriginOfScheme),
            parts.scheme == own.scheme, parts.host == own.host, parts.port == nil
        else { return nil }
        let path = parts.percentEncodedPath.isEmpty ? "/" : parts.percentEncodedPath
        guard let query = parts.percentEncodedQuery else { return path }
        return path + "?" + query
    }

    func webView(_ webView: WKWebView, start task: WKURLSchemeTask) {
        let request = task.request
        guard let url = request.url, let path = Pages.path(of: url), request.httpMethod == "GET" else {
            task.didFailWithError(URLError(.unsupportedURL))
            return
        }
        let id = ObjectIdentifier(task)
        running.insert(id)
        companion.page(path) { answer in
            guard self.running.remove(id) != nil else { return }  // stopped meanwhile
            Pages.finish(task, url, answer)
        }
    }

    func webView(_ webView: WKWebView, stop task: WKURLSchemeTask) {
        running.remove(ObjectIdentifier(task))
    }

    private static func finish(_ task: WKURLSchemeTask, _ url: URL, _ answer: Result<MobilePage, Error>) {
        var status = 500, type = "text/plain; charset=utf-8", body = Data()
        var headers = [
            "Content-Security-Policy": MobilePolicy,
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": "no-store",
        ]
        switch answer {
        case .success(let page):
            status = page.status
            type = page.type
            body = page.body ?? Data()
            if !page.name.isEmpty {
                headers["Content-Disposition"] = "attachment"
            }
        case .failure(let error):
            body = Data(error.localizedDescription.utf8)
        }
        headers["Content-Type"] = type
        headers["Content-Length"] = String(body.count)
        guard let response = HTTPURLResponse(url: url, statusCode: status, httpVersion: "HTTP/1.1", headerFields: headers) else {
            task.didFailWithError(URLError(.badServerResponse))
            return
        }
        task.didReceive(response)
        task.didReceive(body)
        task.didFinish()
    }
}
