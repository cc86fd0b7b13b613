import Mobile
import PhotosUI
import UIKit
import UniformTypeIdentifiers
import WebKit

/// The one screen: a web view that shows what the companion draws.
final class ScreenController: UIViewController {
    private unowned let companion: Companion
    private var web: WKWebView?
    private var attachPath: String?

    init(companion: Companion) {
        self.companion = companion
        super.init(nibName: nil, bundle: nil)
    }

    @available(*, unavailable)
    required init?(coder: NSCoder) { nil }

    override func viewDidLoad() {
        super.viewDidLoad()
        // The ground of the pages before there is one: no flash of white.
        view.backgroundColor = ScreenController.ground
        build()
        companion.screen = self
    }

    /// The ground of the screens, as in the style of the pages, by day and night.
    static let ground = UIColor(named: "Ground") ?? .systemBackground

    /// Lends each page a message port as it has loaded. What comes over it goes
    /// to the companion, and its answer back: that is the acknowledgement.
    private static let portScript = """
        addEventListener("load", () => {
            const { port1, port2 } = new MessageChannel();
            port1.onmessage = async (m) => {
                const answer = await webkit.messageHandlers.send.postMessage(m.data);
                if (answer) port1.postMessage(answer);
            };
            window.lentPort = port1; // or it would be collected
            postMessage("port", "*", [port2]);
        });
        """

    private func build() {
        let configuration = WKWebViewConfiguration()
        configuration.websiteDataStore = .nonPersistent()
        configuration.setURLSchemeHandler(Pages(companion: companion), forURLScheme: URL(string: MobileOriginOfScheme)?.scheme ?? "chinlift")
        let content = configuration.userContentController
        content.addUserScript(WKUserScript(source: ScreenController.portScript, injectionTime: .atDocumentStart, forMainFrameOnly: true))
        content.addScriptMessageHandler(Port(companion: companion), contentWorld: .page, name: "send")

        let web = WKWebView(frame: view.bounds, configuration: configuration)
        web.navigationDelegate = self
        web.isOpaque = false
        web.backgroundColor = ScreenController.ground
        web.allowsBackForwardNavigationGestures = false
        web.allowsLinkPreview = false
        web.scrollView.bounces = false
        view.addSubview(web)
        web.translatesAutoresizingMaskIntoConstraints = false
        NSLayoutConstraint.activate([
            web.topAnchor.constraint(equalTo: view.safeAreaLayoutGuide.topAnchor),
            web.bottomAnchor.constraint(equalTo: view.safeAreaLayoutGuide.bottomAnchor),
            web.leadingAnchor.constraint(equalTo: view.safeAreaLayoutGuide.leadingAnchor),
            web.trailingAnchor.constraint(equalTo: view.safeAreaLayoutGuide.trailingAnchor),
        ])
        self.web = web
    }

    /// Whether a page was opened, or is being opened.
    var hasPage: Bool { web?.url != nil }

    func open(_ path: String) {
        if let url = URL(string: MobileOriginOfScheme + path) {
            web?.load(URLRequest(url: url))
        }
    }

    /// Has the open page ask what changed.
    func freshen() {
        guard hasPage else { return }
        web?.evaluateJavaScript(MobileFreshen, completionHandler: nil)
    }

    private func say(_ error: Error) {
        let alert = UIAlertController(title: nil, message: error.localizedDescription, preferredStyle: .alert)
        alert.addAction(UIAlertAction(title: "OK", style: .default))
        present(alert, animated: true)
    }

    // MARK: Files

    /// Where files lie while the share sheet has them. What an app that was ended
    /// meanwhile left there goes at the next start.
    private static let outgoing = FileManager.default.temporaryDirectory.appendingPathComponent("outgoing", isDirectory: true)

    static func forgetOutgoing() {
        try? FileManager.default.removeItem(at: outgoing)
    }

    /// Hands a file to the share sheet, from a folder that is emptied after.
    private func share(_ path: String) {
        companion.page(path) { answer in
            do {
                let page = try answer.get()
                guard page.status == 200, !page.name.isEmpty else {
                    self.open(path)  // it says why there is none
                    return
                }
                let folder = ScreenController.outgoing.appendingPathComponent(UUID().uuidString, isDirectory: true)
                try FileManager.default.createDirectory(at: folder, withIntermediateDirectories: true)
                let file = folder.appendingPathComponent((page.name as NSString).lastPathComponent)
                try (page.body ?? Data()).write(to: file, options: .completeFileProtection)
                let sheet = UIActivityViewController(activityItems: [file], applicationActivities: nil)
                // The sheet stays when one of its activities was left; then it may ask again.
                sheet.completionWithItemsHandler = { activity, completed, _, _ in
                    if completed || activity == nil {
                        try? FileManager.default.removeItem(at: folder)
                    }
                }
                sheet.popoverPresentationController?.sourceView = self.view
                sheet.popoverPresentationController?.sourceRect = CGRect(x: self.view.bounds.midX, y: self.view.bounds.midY, width: 0, height: 0)
                self.present(sheet, animated: true)
            } catch {
                self.say(error)
            }
        }
    }

    // MARK: Pictures

    private func picture(for path: String) {
        attachPath = path
        if UIImagePickerController.isSourceTypeAvailable(.camera) {
            let camera = UIImagePickerController()
            camera.sourceType = .camera
            camera.delegate = self
            present(camera, animated: true)
        } else {
            var configuration = PHPickerConfiguration()
            configuration.filter = .images
            configuration.selectionLimit = 1
            let picker = PHPickerViewController(configuration: configuration)
            picker.delegate = self
            present(picker, animated: true)
        }
    }

    // Any kind: nobody else knows the names of our files. Whether it can be taken
    // in the core says.
    private func takeIn(for path: String) {
        attachPath = path
        let picker = UIDocumentPickerViewController(forOpeningContentTypes: [.item])
        picker.delegate = self
        present(picker, animated: true)
    }

    private func took(_ image: UIImage?) {
        guard let path = attachPath else { return }
        attachPath = nil
        guard let data = image?.jpegData(compressionQuality: 0.9) else { return }
        companion.attach(data, to: path) { self.attached($0) }
    }

    private func attached(_ error: Error?) {
        if let error = error {
            say(error)
        } else {
            self.web?.reload()
        }
    }
}

/// Answers the message port of a page of ours, and of nobody else.
final class Port: NSObject, WKScriptMessageHandlerWithReply {
    private unowned let companion: Companion

    init(companion: Companion) {
        self.companion = companion
    }

    func userContentController(
        _ userContentController: WKUserContentController,
        didReceive message: WKScriptMessage,
        replyHandler: @escaping (Any?, String?) -> Void
    ) {
        let origin = message.frameInfo.securityOrigin
        guard message.frameInfo.isMainFrame, origin.`protocol` + "://" + origin.host == MobileOriginOfScheme, let text = message.body as? String else {
            replyHandler(nil, nil)
            return
        }
        companion.send(text) { replyHandler($0, nil) }
    }
}

extension ScreenController: WKNavigationDelegate {
    func webView(
        _ webView: WKWebView,
        decidePolicyFor navigationAction: WKNavigationAction,
        decisionHandler: @escaping (WKNavigationActionPolicy) -> Void
    ) {
        guard let url = navigationAction.request.url, let path = Pages.path(of: url), navigationAction.targetFrame?.isMainFrame == true else {
            decisionHandler(.cancel)  // another origin, or another window
            return
        }
        if path.hasPrefix(MobileAttachPath) {
            decisionHandler(.cancel)
            if path == MobileTakeInPath {
                takeIn(for: path)
            } else {
                picture(for: path)
            }
        } else if navigationAction.shouldPerformDownload {
            decisionHandler(.cancel)
            share(path)
        } else {
            decisionHandler(.allow)
        }
    }

    /// A file that no link said was one.
    func webView(
        _ webView: WKWebView,
        decidePolicyFor navigationResponse: WKNavigationResponse,
        decisionHandler: @escaping (WKNavigationResponsePolicy) -> Void
    ) {
        let response = navigationResponse.response as? HTTPURLResponse
        if response?.value(forHTTPHeaderField: "Content-Disposition") != nil, let url = response?.url, let path = Pages.path(of: url) {
            decisionHandler(.cancel)
            share(path)
        } else {
            decisionHandler(.allow)
        }
    }

    /// The page is gone and nothing of the record with it: it is drawn anew.
    func webViewWebContentProcessDidTerminate(_ webView: WKWebView) {
        open(companion.startPath)
    }
}

extension ScreenController: UIImagePickerControllerDelegate, UINavigationControllerDelegate {
    func imagePickerController(_ picker: UIImagePickerController, didFinishPickingMediaWithInfo info: [UIImagePickerController.InfoKey: Any]) {
        picker.dismiss(animated: true)
        took(info[.originalImage] as? UIImage)
    }

    func imagePickerControllerDidCancel(_ picker: UIImagePickerController) {
        picker.dismiss(animated: true)
        attachPath = nil
    }
}

extension ScreenController: PHPickerViewControllerDelegate {
    func picker(_ picker: PHPickerViewController, didFinishPicking results: [PHPickerResult]) {
        picker.dismiss(animated: true)
        guard let provider = results.first?.itemProvider, provider.canLoadObject(ofClass: UIImage.self) else {
            attachPath = nil
            return
        }
        provider.loadObject(ofClass: UIImage.self) { object, _ in
            DispatchQueue.main.async { self.took(object as? UIImage) }
        }
    }
}

extension ScreenController: UIDocumentPickerDelegate {
    func documentPicker(_ controller: UIDocumentPickerViewController, didPickDocumentsAt urls: [URL]) {
        guard let path = attachPath, let file = urls.first else { return }
        attachPath = nil
        companion.attach(contentsOf: file, to: path) { self.attached($0) }
    }

    func documentPickerWasCancelled(_ controller: UIDocumentPickerViewController) {
        attachPath = nil
    }
}
